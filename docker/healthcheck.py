"""Asks the service in this container whether it is ready, or the path that is given; the exit status is the answer."""

import http.client
import os
import sys

# Not by an address that a proxy of the environment could be asked for.
connection = http.client.HTTPConnection("127.0.0.1", int(os.environ.get("WATTPAIR_PORT", "8080")), timeout=4)
try:
    connection.request("GET", sys.argv[1] if len(sys.argv) > 1 else "/health/ready")
    sys.exit(0 if connection.getresponse().status == 200 else 1)
except (OSError, http.client.HTTPException) as error:
    sys.exit(f"not ready: {error}")
