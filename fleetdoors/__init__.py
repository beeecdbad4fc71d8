"""fleetdoors: the record of a fleet's powered doors, and the foresight that follows from it."""

import os

# Before anything brings numpy. Its products are of short vectors, and a yard's server runs several
# processes: on a busy machine of two cores one such product took 8 ms with threads of its own,
# 0.01 ms without.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("OMP_NUM_THREADS", "1")
