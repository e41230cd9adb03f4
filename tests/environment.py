"""Set before Django reads its settings: plain HTTP, a folder of our own, and one thread of algebra for each worker.

Parallel workers with several threads each wait for each other. Loaded by pytest as its first plugin.
"""

import os
import tempfile

os.environ["GROUTJOBS_PLAIN_HTTP"] = "1"
os.environ["GROUTJOBS_VAR"] = tempfile.mkdtemp(prefix="groutjobs-test-")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
