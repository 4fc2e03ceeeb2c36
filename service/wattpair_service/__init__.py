"""The wattpair service: pairs PV modules with microinverters."""

import os

# Before numpy reads it. How many threads share a sum decides its last digits, and the same request must give the same bytes
# whatever the machine has; a worker has one processor anyway.
os.environ["OPENBLAS_NUM_THREADS"] = "1"
