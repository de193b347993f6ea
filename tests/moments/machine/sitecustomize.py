"""Read by Python itself when it starts: moves this process's clock by TESTS_SECONDS_AHEAD; from
there it runs on.
"""

import os
import time

import time_machine

time_machine.travel(time.time() + float(os.environ["TESTS_SECONDS_AHEAD"]), tick=True).start()
