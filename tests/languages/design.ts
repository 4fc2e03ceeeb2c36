import { readFileSync } from "node:fs";
import createClient from "openapi-fetch";
import type { paths } from "./contract.js";

type DesignRequest = paths["/v1/design"]["post"]["requestBody"]["content"]["application/json"];

const [, , url, file] = process.argv;
const request: DesignRequest = JSON.parse(readFileSync(file, "utf8"));
// @ts-expect-error - a module has no colour: the compiler must know each field
request.modules[0].colour = "black";
delete (request.modules[0] as Record<string, unknown>).colour;
const { data, error } = await createClient<paths>({ baseUrl: url }).POST("/v1/design", { body: request });
if (data === undefined || typeof data === "string") throw new Error(JSON.stringify(error));
console.log(JSON.stringify({ faces: data.faces.map((face) => face.name), clipped: data.clipping?.totals[0].clipped_share.value }));
