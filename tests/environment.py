"""Set before Django reads its settings: plain HTTP and a folder of our own. Loaded by pytest as its first plugin."""

import os
import tempfile

os.environ["GROUTJOBS_PLAIN_HTTP"] = "1"
os.environ["GROUTJOBS_VAR"] = tempfile.mkdtemp(prefix="groutjobs-test-")
