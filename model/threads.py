"""How many threads the linear-algebra libraries take: names of their settings, read once when such a library is loaded.

The systems solved here are small: threads cost more than they bring, many times more beside other work on the same
cores.
"""

THREADS = (
    "OPENBLAS_NUM_THREADS",
    "OMP_NUM_THREADS",
    "MKL_NUM_THREADS",
    "BLIS_NUM_THREADS",
    "VECLIB_MAXIMUM_THREADS",
)
