"""python -m kit.lessons check 10000: every kind of exercise over so many seeds."""

import re
import sys

from .checking import check

if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] != "check" or not re.fullmatch("[1-9][0-9]{0,6}", sys.argv[2]):
        sys.exit("usage: python -m kit.lessons check 10000")
    sys.exit(check(int(sys.argv[2])))
