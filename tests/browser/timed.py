"""Run a module as a program whose clock was set: python -m tests.browser.timed 2027-04-05T13:00:00+00:00 gunicorn ...

The clock goes on from there, in the process and in those that it forks. So one job of several weeks can be done in its
own order, and the same test gives the same job on every day of the year.
"""

import datetime as dt
import runpy
import sys

import time_machine


def main() -> None:
    moment, module, *rest = sys.argv[1:]
    time_machine.travel(dt.datetime.fromisoformat(moment), tick=True).start()
    sys.argv = [module, *rest]
    runpy.run_module(module, run_name="__main__", alter_sys=True)


if __name__ == "__main__":
    main()
