"""Asks the service in this container whether it is ready; the exit status is the answer."""

import os
import sys
import urllib.request

ADDRESS = f"http://127.0.0.1:{os.environ.get('WATTPAIR_PORT', '8080')}/health/ready"

try:
    with urllib.request.urlopen(ADDRESS, timeout=2) as answer:
        sys.exit(0 if answer.status == 200 else 1)
except OSError as error:
    sys.exit(f"not ready: {error}")
