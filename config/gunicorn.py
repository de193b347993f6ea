"""How gunicorn serves in a container: `gunicorn --config python:config.gunicorn config.wsgi`.

GUNICORN_CMD_ARGS and the command line override it. There is no access log, since the product logs
each request itself. If one is switched on, it goes through the same filter, because the address of
a calendar feed is a secret.
"""

import os
import tempfile

from config.logs import logging_at

bind = "0.0.0.0:8000"
worker_class = "gthread"
# On two processors, four processes of four threads answer a rush in a quarter less time than two of
# eight. Python runs one thread of a process at a time, and while it waits for the database another
# process can work.
workers = 4
threads = 4
# In memory: the root is read-only, and a disk could delay a heartbeat.
worker_tmp_dir = "/dev/shm"  # noqa: S108
logconfig_dict = logging_at(os.environ.get("LEVARE_LOG", "INFO"))

# The folder in which the processes add up their figures. It is new at each start, so counts begin
# at zero.
os.environ.setdefault("PROMETHEUS_MULTIPROC_DIR", tempfile.mkdtemp(prefix="levare-figures-"))
