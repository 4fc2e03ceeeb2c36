package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"

	"wattpair"
)

func main() {
	text, err := os.ReadFile(os.Args[2])
	if err != nil {
		panic(err)
	}
	var request wattpair.DesignRequest
	if err := json.Unmarshal(text, &request); err != nil {
		panic(err)
	}
	settings := wattpair.NewConfiguration()
	settings.Servers = wattpair.ServerConfigurations{{URL: os.Args[1]}}
	call := wattpair.NewAPIClient(settings).PairingAPI.DesignRoof(context.Background())
	result, _, err := call.DesignRequest(request).Execute()
	if err != nil {
		panic(err)
	}
	faces := []string{}
	for _, face := range result.Faces {
		faces = append(faces, face.Name)
	}
	share := result.Clipping.Get().Totals[0].ClippedShare.Value
	answer, err := json.Marshal(map[string]any{"faces": faces, "clipped": share})
	if err != nil {
		panic(err)
	}
	fmt.Println(string(answer))
}
