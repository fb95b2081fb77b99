"""What forks and kills, in a fresh process: a fork of one that runs threads may wait for ever for a lock of theirs."""

import itertools
import multiprocessing
import signal
import time

WAITS = (0.004, 0.009, 0.016, 0.023, 0.031, 0.005, 0.019)  # s


def alone(act, *args):
    """Call a function of a test module in a process of its own, to its end."""
    process = multiprocessing.get_context("spawn").Process(target=act, args=args)
    process.start()
    process.join()
    assert process.exitcode == 0


def kills(times, act, *args, waits=WAITS, at_once=1):
    """Let `act(*args, event)` go on in forks until its event is set and a moment longer, kill it, and yield, so often.

    at_once: how many of them are killed together; each is told its number after its other arguments.
    """
    processes = multiprocessing.get_context("fork")
    for wait in itertools.islice(itertools.cycle(waits), times):
        running = []
        for number in range(at_once):
            ready = processes.Event()
            running.append(processes.Process(target=act, args=(*args, *[number] * (at_once > 1), ready)))
            running[-1].start()
            assert ready.wait(300)
        time.sleep(wait)
        for each in running:
            each.kill()
            each.join()
            assert each.exitcode == -signal.SIGKILL
        yield
