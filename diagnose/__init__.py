"""Fault diagnosis for home-built electric brewing panels."""

import os

__version__ = "0.1.0"

# The circuit's matrices are small and many: threads inside each of them cost ten times what they save (measured).
# A number set from outside stays, and so does whatever a program chose that loaded numpy before this.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
