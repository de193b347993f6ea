"""How gunicorn serves in a container: `gunicorn --config python:config.gunicorn config.wsgi`.

GUNICORN_CMD_ARGS and the command line win over it. There is no access log, since the product logs each request itself; one that
is asked for goes through the same filter, because the address of a calendar feed is a secret.
"""

import os
import tempfile

from config.logs import logging_at

bind = "0.0.0.0:8000"
worker_class = "gthread"
# On two processors four processes of four threads answer a rush in a quarter less time than two of eight: Python runs one thread of
# a process at a time, and while that one waits for the database another process has work.
workers = 4
threads = 4
worker_tmp_dir = "/dev/shm"  # noqa: S108  memory: the root is read-only, and a disk could hold a heartbeat up
logconfig_dict = logging_at(os.environ.get("LEVARE_LOG", "INFO"))

# Where the processes sum their figures up, if figures are on; a new folder at each start, and counts begin at nothing again.
os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", tempfile.mkdtemp(prefix="levare-figures-"))
