"""The wattpair service: pairs PV modules with microinverters."""

import os

THREAD_COUNTS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
"""What numpy's and scipy's linear algebra read when they are loaded, by how they were built."""

# Whatever the environment says. How many threads share a sum decides its last digits, and the same request must give the same
# bytes whatever the machine has; a worker has one processor anyway.
os.environ.update(dict.fromkeys(THREAD_COUNTS, "1"))
