"""Runs a program on a terminal of its own and answers its questions.

Arguments: the program and its arguments. Standard input: one answer a line. Each is
typed once the program has asked, that is, once it waits after a `] `.
"""

import os
import pty
import select
import sys
import time

answers = sys.stdin.read().split("\n")
pid, terminal = pty.fork()
if pid == 0:
    os.execv(sys.argv[1], sys.argv[1:])
said = b""
until = time.monotonic() + 60
asked = 0
while time.monotonic() < until:
    ready, _, _ = select.select([terminal], [], [], 0.2)
    if ready:
        try:
            more = os.read(terminal, 65536)
        except OSError:
            break
        if not more:
            break
        said += more
    elif said.endswith(b"] ") and len(said) > asked and answers:
        asked = len(said)
        os.write(terminal, answers.pop(0).encode() + b"\n")
_, status = os.waitpid(pid, 0)
sys.stdout.write(said.decode().replace("\r\n", "\n"))
sys.exit(os.waitstatus_to_exitcode(status))
