"""The kernel under a real client (jupyter_client over libzmq): order, loss,
input, interrupts, signatures, restarts, large outputs, nbclient.

Run: .ci/outside/with_kernel /usr/bin/python3 .ci/outside/kernel_client.py [name…]
"""
import os
import random
import signal
import socket
import subprocess
import sys
import time
import traceback
from queue import Empty

import nbformat
import psutil
import zmq
from jupyter_client.manager import KernelManager
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, CellTimeoutError

KERNEL = os.environ.get("KERNEL_NAME", "fringebook")
CHECKS = []


def check(function):
    CHECKS.append(function)
    return function


class Session:
    """A kernel process and a client of it."""

    def __init__(self, transport="tcp", **options):
        self.km = KernelManager(kernel_name=KERNEL, transport=transport)
        self.km.start_kernel(**options)
        self.kc = self.client()

    def client(self):
        kc = self.km.blocking_client()
        kc.start_channels()
        kc.wait_for_ready(timeout=60)
        # Where the kernel took over a second, the client has asked again: what
        # comes before the answer to a question of our own is not wanted
        asked = kc.kernel_info()
        while kc.get_shell_msg(timeout=60)["parent_header"]["msg_id"] != asked:
            pass
        return kc

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.kc.stop_channels()
        self.km.shutdown_kernel(now=True)

    def run(self, code, kc=None, timeout=60, **options):
        """Runs a cell; gives the reply and what came between busy and idle."""
        kc = kc or self.kc
        return finish(kc, kc.execute(code, **options), timeout)


def finish(kc, msg_id, timeout=60, on_input=None):
    """Waits for reply and idle of a request; refuses anything out of order."""
    reply, published = None, []
    deadline = time.monotonic() + timeout
    while reply is None or not published or not is_status(published[-1], "idle"):
        for channel in ("iopub", "shell", "stdin"):
            if channel == "stdin" and on_input is None:
                continue
            try:
                wait = 0.05 if channel == "iopub" else 0
                message = getattr(kc, f"get_{channel}_msg")(timeout=wait)
            except Empty:
                continue
            if channel == "stdin":
                on_input(message["content"])
            elif message["parent_header"].get("msg_id") != msg_id:
                continue
            elif channel == "shell":
                reply = message["content"]
            else:
                published.append(message)
        assert time.monotonic() < deadline, f"no end within {timeout} s: {reply}"
    assert is_status(published[0], "busy"), "busy is not first"
    states = [m["content"]["execution_state"] for m in published if m["msg_type"] == "status"]
    assert states == ["busy", "idle"], states
    return reply, published[1:-1]


def is_status(message, state):
    return message["msg_type"] == "status" and message["content"]["execution_state"] == state


def text_of(published):
    return "".join(m["content"]["text"] for m in published if m["msg_type"] == "stream")


def result_of(published):
    for message in published:
        if message["msg_type"] == "execute_result":
            return message["content"]["data"]["text/plain"]
    return None


@check
def order_and_count():
    """stress: 10 000 executions, none late, none lost"""
    total = int(os.environ.get("STRESS", "10000"))
    rng = random.Random(1)
    late = lost = 0
    refused = []
    with Session() as s:
        kc = s.kc
        done = 0
        while done < total:
            batch = {}
            for n in range(done, min(done + 50, total)):
                prints, shows = rng.randrange(4), rng.randrange(3)
                code = "\n".join(
                    [f"console.log('p{n}.{i}')" for i in range(prints)]
                    + [f"cell.display('d{n}.{i}');" for i in range(shows)]
                    + (["await new Promise((r) => setTimeout(r, 5));"] if n % 25 == 0 else [])
                    + [f"{n} * 2"]
                )
                batch[kc.execute(code)] = {
                    "n": n, "prints": prints, "shows": shows,
                    "reply": False, "idle": False, "text": "", "shown": 0, "result": None,
                }
            done += len(batch)
            deadline = time.monotonic() + 60
            while not all(b["reply"] and b["idle"] for b in batch.values()):
                assert time.monotonic() < deadline, "a cell has no reply or no idle"
                try:
                    while True:
                        reply = kc.get_shell_msg(timeout=0)
                        b = batch.get(reply["parent_header"].get("msg_id"))
                        if b:
                            b["reply"] = True
                            if reply["content"]["status"] != "ok":
                                refused.append((b["n"], reply["content"]))
                except Empty:
                    pass
                try:
                    m = kc.get_iopub_msg(timeout=0.2)
                except Empty:
                    continue
                b = batch.get(m["parent_header"].get("msg_id"))
                if b is None:
                    continue
                if b["idle"]:
                    late += 1
                kind, content = m["msg_type"], m["content"]
                if kind == "stream":
                    b["text"] += content["text"]
                elif kind == "display_data":
                    b["shown"] += 1
                elif kind == "execute_result":
                    b["result"] = content["data"]["text/plain"]
                elif is_status(m, "idle"):
                    b["idle"] = True
            for b in batch.values():
                expected = "".join(f"p{b['n']}.{i}\n" for i in range(b["prints"]))
                lost += b["text"] != expected
                lost += b["shows"] - b["shown"]
                lost += b["result"] != str(b["n"] * 2)
        while True:
            try:
                m = kc.get_iopub_msg(timeout=0.5)
                late += m["parent_header"].get("msg_id") is not None
            except Empty:
                break
    print(f"  {total} executions: {late} late, {lost} lost")
    assert not refused, f"{len(refused)} did not run, the first: {refused[0]}"
    assert late == 0 and lost == 0


@check
def many_outputs():
    """30 cells of 20 prints and 20 displays: nothing after idle, all in order"""
    code = "for (let i = 0; i < 20; i++) { console.log(i); await cell.display(i); }"
    with Session() as s:
        for _ in range(30):
            _, published = s.run(code)
            kinds = [m["msg_type"] for m in published if m["msg_type"] != "execute_input"]
            assert kinds == ["stream", "display_data"] * 20, kinds
        try:
            m = s.kc.get_iopub_msg(timeout=0.5)
            raise AssertionError(f"{m['msg_type']} after idle")
        except Empty:
            pass


@check
def joined_text():
    """2000 prints arrive whole in at most 10 messages"""
    with Session() as s:
        _, published = s.run("for (let i = 0; i < 2000; i++) console.log('line', i)")
        streams = [m for m in published if m["msg_type"] == "stream"]
        assert text_of(published) == "".join(f"line {i}\n" for i in range(2000))
        assert len(streams) <= 10, len(streams)
        print(f"  {len(streams)} messages")


@check
def input_and_password():
    """stdin: a line and a password, asked of the sender alone"""
    with Session() as s:
        other = s.client()
        asked = []

        def answer(content):
            asked.append((content["prompt"], content["password"]))
            s.kc.input("Ada")

        code = "const name = await cell.input('name? '); const key = await cell.input('key? ', { password: true }); name + key"
        reply, published = finish(s.kc, s.kc.execute(code, allow_stdin=True), 30, answer)
        assert reply["status"] == "ok", reply
        assert result_of(published) == '"AdaAda"', result_of(published)
        assert asked == [("name? ", False), ("key? ", True)], asked
        try:
            other.get_stdin_msg(timeout=0.5)
            raise AssertionError("the other client was asked")
        except Empty:
            pass
        other.stop_channels()


@check
def blocking_prompt():
    """stdin: prompt() works too, and fails where no input is allowed"""
    with Session() as s:
        reply, published = finish(
            s.kc, s.kc.execute("prompt('n?')", allow_stdin=True), 30, lambda _: s.kc.input("7")
        )
        assert result_of(published) == '"7"', (reply, result_of(published))
        reply, _ = s.run("await cell.input('n?')", allow_stdin=False)
        assert reply["status"] == "error", reply
        reply, _ = s.run("1")
        assert reply["status"] == "ok"


def interrupted(s, code, after=0.5, limit=1.0):
    """Interrupts a cell; gives the time until its reply."""
    msg_id = s.kc.execute(code, allow_stdin=True)
    time.sleep(after)
    start = time.monotonic()
    s.km.interrupt_kernel()
    reply, published = finish(s.kc, msg_id, 30)
    took = time.monotonic() - start
    assert reply["status"] == "error", reply
    assert any(m["msg_type"] == "error" for m in published)
    kept, published = s.run("kept")
    assert result_of(published) == "42", (kept, "variables were lost")
    assert took < limit, f"{took:.2f} s"
    return took


@check
def interrupts():
    """interrupt: await, loop, library, input; within 1 s, variables kept"""
    cells = {
        "await": "await new Promise((r) => setTimeout(r, 60000))",
        "loop": "while (true) {}",
        "for loop": "let n = 0; for (;;) n += 1",
        "function": "function spin() { for (;;) Math.sqrt(2); } spin()",
        "input": "await cell.input('n?')",
        "prompt": "prompt('n?')",
        "library": "simulateCapture({ distance: (t) => 0.1 + 1e-6 * t, samplingRate: 1e6, duration: 10 })",
    }
    with Session() as s:
        reply, _ = s.run("import { simulateCapture } from 'fringebook'; const kept = 42")
        assert reply["status"] == "ok", reply
        for name, code in cells.items():
            print(f"  {name}: {interrupted(s, code) * 1000:.0f} ms")
        s.km.interrupt_kernel()
        # Control and shell are two sockets without an order between them
        time.sleep(1)
        reply, _ = s.run("1")
        assert reply["status"] == "ok", "an interrupt while idle is no interrupt of the next cell"


@check
def interrupt_aborts_the_queue():
    """interrupt: cells queued behind are aborted, later ones run"""
    with Session() as s:
        first = s.kc.execute("await new Promise((r) => setTimeout(r, 60000))")
        second = s.kc.execute("1")
        time.sleep(0.3)
        s.km.interrupt_kernel()
        statuses = {}
        while len(statuses) < 2:
            m = s.kc.get_shell_msg(timeout=10)
            statuses[m["parent_header"]["msg_id"]] = m["content"]["status"]
        assert statuses == {first: "error", second: "aborted"}, statuses
        assert s.run("2")[0]["status"] == "ok"


@check
def signals():
    """SIGINT to the process group: survived when idle and when busy"""
    with Session() as s:
        s.run("const kept = 42")
        group = os.getpgid(s.km.provisioner.pid)
        assert group != os.getpgid(0)
        os.killpg(group, signal.SIGINT)
        time.sleep(0.3)
        assert result_of(s.run("kept")[1]) == "42", "idle"
        msg_id = s.kc.execute("await new Promise((r) => setTimeout(r, 60000))")
        time.sleep(0.5)
        os.killpg(group, signal.SIGINT)
        reply, _ = finish(s.kc, msg_id, 10)
        assert reply["status"] == "error", reply
        assert result_of(s.run("kept")[1]) == "42", "busy"


@check
def heartbeat_while_busy():
    """heartbeat and control answer while a cell loops"""
    with Session() as s:
        msg_id = s.kc.execute("const end = Date.now() + 4000; while (Date.now() < end) {}")
        time.sleep(0.3)
        for _ in range(10):
            assert beat(s.kc, 0.5), "no heartbeat"
        start = time.monotonic()
        s.kc.control_channel.send(s.kc.session.msg("kernel_info_request"))
        s.kc.get_control_msg(timeout=2)
        print(f"  control: {(time.monotonic() - start) * 1000:.1f} ms")
        reply, _ = finish(s.kc, msg_id, 20)
        assert reply["status"] == "ok"


def beat(kc, timeout):
    heart = zmq.Context.instance().socket(zmq.REQ)
    heart.linger = 0
    heart.connect(f"tcp://{kc.ip}:{kc.hb_port}")
    heart.send(b"ping")
    try:
        return heart.poll(timeout * 1000) > 0 and heart.recv() == b"ping"
    finally:
        heart.close()


@check
def signatures():
    """a wrong signature, no signature, a repeat and rubbish are dropped"""
    with Session() as s:
        session, kc = s.kc.session, s.kc
        stream = kc.shell_channel.socket
        good = session.serialize(session.msg("kernel_info_request"))
        at = good.index(b"<IDS|MSG>")
        wrong = list(good)
        wrong[at + 1] = b"0" * 64
        none = list(good)
        none[at + 1] = b""
        rubbish = [b"<IDS|MSG>", b"", b"{", b"}", b"\xff", b"x"]
        for frames in (wrong, none, rubbish, good[:at] + good[at + 1:], [b""], good[:3]):
            stream.send_multipart(frames)
        stream.send_multipart(good)
        stream.send_multipart(good)
        replies = 0
        try:
            while True:
                kc.get_shell_msg(timeout=1)
                replies += 1
        except Empty:
            pass
        assert replies == 1, replies
        assert s.run("1")[0]["status"] == "ok"


@check
def welcome():
    """a subscriber is welcomed first, alone, under its own topic"""
    with Session() as s:
        first = s.km.blocking_client()
        first.start_channels(shell=False, stdin=False, hb=False, control=False)
        m = first.get_iopub_msg(timeout=5)
        assert m["msg_type"] == "iopub_welcome", m
        assert m["content"] == {"subscription": ""} and m["parent_header"] == {}
        first.stop_channels()
        try:
            while True:
                m = s.kc.get_iopub_msg(timeout=0.5)
                # What came of this client's own first request may come late.
                if m["parent_header"].get("session") != s.kc.session.session:
                    raise AssertionError(f"{m['msg_type']} reached another client")
        except Empty:
            pass


@check
def vanishing_peers():
    """peers that say nothing, rubbish, or stop in the middle of a message"""
    greeting = b"\xff" + bytes(8) + b"\x7f\x03\x01NULL" + bytes(16 + 32)
    ready = b"\x04\x1c\x05READY\x0bSocket-Type\x00\x00\x00\x06DEALER"
    half = b"\x01\x04abcd\x02" + (10**6).to_bytes(8, "big") + b"half"
    huge = b"\x02" + (2**62).to_bytes(8, "big") + b"x"
    with Session() as s:
        for said in (b"", b"GET / HTTP/1.1\r\n\r\n" * 10, greeting[:20], greeting + ready + half,
                     greeting + ready + huge, greeting + b"\xff" * 50):
            for port in s.km.ports:
                with socket.create_connection((s.km.ip, port)) as raw:
                    raw.sendall(said)
        assert result_of(s.run("6 * 7")[1]) == "42"


@check
def two_clients():
    """two clients: each its own replies, both all outputs"""
    with Session() as s:
        other = s.client()
        ids = [(kc, kc.execute(f"console.log({n}); {n}")) for n in range(50) for kc in (s.kc, other)]
        for kc in (s.kc, other):
            mine = {msg_id for who, msg_id in ids if who is kc}
            got = {kc.get_shell_msg(timeout=10)["parent_header"]["msg_id"] for _ in mine}
            assert got == mine
            idle = set()
            while len(idle) < len(ids):
                m = kc.get_iopub_msg(timeout=10)
                if is_status(m, "idle"):
                    idle.add(m["parent_header"]["msg_id"])
        other.stop_channels()


@check
def restarts():
    """20 restarts on the same ports, each a fresh session"""
    times = []
    with Session() as s:
        sessions = set()
        ports = s.km.ports
        for n in range(20):
            s.run(f"const mark = {n}")
            start = time.monotonic()
            s.km.restart_kernel(newports=False)
            s.kc.stop_channels()
            s.kc = s.client()
            times.append(time.monotonic() - start)
            assert s.km.ports == ports
            reply, _ = s.run("mark")
            assert reply["status"] == "error" and reply["execution_count"] == 1, reply
            s.kc.kernel_info()
            sessions.add(s.kc.get_shell_msg(timeout=5)["header"]["session"])
        assert len(sessions) == 20
    print(f"  median {sorted(times)[10]:.2f} s, worst {max(times):.2f} s")


@check
def large_result():
    """a result of 20 MB that shows itself arrives whole, a plain text is cut"""
    with Session() as s:
        _, published = s.run(
            "({ [Symbol.for('Jupyter.display')]: () => ({ 'text/plain': 'x'.repeat(20_000_000) }) })"
        )
        assert len(result_of(published)) == 20_000_000, len(result_of(published))
        _, published = s.run("'x'.repeat(20_000_000)")
        assert len(result_of(published)) < 200_000, len(result_of(published))


@check
def many_lines():
    """1e6 lines arrive whole, memory bounded"""
    with Session() as s:
        kernel = psutil.Process(s.km.provisioner.pid)
        family = lambda: [kernel] + kernel.children(recursive=True)
        rss = lambda: sum(p.memory_info().rss for p in family()) / 2**20
        s.run("1")
        before = peak = rss()
        start = time.monotonic()
        msg_id = s.kc.execute("for (let i = 0; i < 1e6; i++) console.log('line', i)")
        lines, messages, ended = 0, 0, False
        while not ended:
            m = s.kc.get_iopub_msg(timeout=60)
            if m["parent_header"].get("msg_id") != msg_id:
                continue
            if m["msg_type"] == "stream":
                lines += m["content"]["text"].count("\n")
                messages += 1
                if messages % 10 == 0:
                    peak = max(peak, rss())
            ended = is_status(m, "idle")
        took = time.monotonic() - start
        print(f"  {messages} messages, {took:.1f} s, {before:.0f} MiB before, {peak:.0f} MiB at most")
        assert lines == 1_000_000, lines
        assert peak < before + 300, "more than 300 MiB on top"


@check
def unread_lines():
    """1e6 lines that nobody reads: the kernel goes on, memory bounded"""
    with Session() as s:
        kernel = psutil.Process(s.km.provisioner.pid)
        # A client that subscribes and then never reads
        deaf = zmq.Context.instance().socket(zmq.SUB)
        deaf.linger, deaf.rcvhwm = 0, 10
        deaf.setsockopt(zmq.RCVBUF, 4096)
        deaf.subscribe(b"")
        deaf.connect(f"tcp://{s.kc.ip}:{s.kc.iopub_port}")
        time.sleep(0.5)
        s.run("1")
        before = sum(p.memory_info().rss for p in [kernel] + kernel.children())
        start = time.monotonic()
        _, published = s.run("for (let i = 0; i < 1e6; i++) console.log('line', i)", timeout=120)
        after = sum(p.memory_info().rss for p in [kernel] + kernel.children())
        print(f"  {time.monotonic() - start:.1f} s, {(after - before) / 2**20:.0f} MiB more")
        assert text_of(published).count("\n") == 1_000_000
        assert after - before < 300 * 2**20
        deaf.close()


@check
def over_ipc():
    """Unix sockets: the same kernel, files removed at the end"""
    folder = os.environ["JUPYTER_RUNTIME_DIR"]
    with Session("ipc") as s:
        assert result_of(s.run("6 * 7")[1]) == "42"
        path = f"{s.km.ip}-{s.km.shell_port}"
        assert os.path.exists(path)
        s.kc.shutdown()
        s.km.provisioner.process.wait(5)
        assert not os.path.exists(path), folder


@check
def silent_and_expressions():
    """silent, user_expressions, store_history, stop_on_error"""
    with Session() as s:
        reply, published = s.run("console.log(1); 2", silent=True)
        assert published == [] and reply["execution_count"] == 0, published
        reply, _ = s.run("const a = 6", user_expressions={"b": "a * 7", "c": "nowhere"})
        assert reply["user_expressions"]["b"]["data"]["text/plain"] == "42"
        assert reply["user_expressions"]["c"]["status"] == "error"
        reply, _ = s.run("1", store_history=False)
        assert reply["execution_count"] == 1
        ids = [s.kc.execute("throw 1"), s.kc.execute("1"), s.kc.execute("2")]
        statuses = [s.kc.get_shell_msg(timeout=5)["content"]["status"] for _ in ids]
        assert statuses == ["error", "aborted", "aborted"], statuses
        ids = [s.kc.execute("throw 1", stop_on_error=False), s.kc.execute("1")]
        statuses = [s.kc.get_shell_msg(timeout=5)["content"]["status"] for _ in ids]
        assert statuses == ["error", "ok"], statuses


@check
def late_output():
    """output of a timer after idle has its own cell as parent"""
    with Session() as s:
        first = s.kc.execute("setTimeout(() => console.log('late'), 500)")
        finish(s.kc, first)
        second = s.kc.execute("await new Promise((r) => setTimeout(r, 1000)); console.log('second')")
        parents = {}
        while len(parents) < 2:
            m = s.kc.get_iopub_msg(timeout=5)
            if m["msg_type"] == "stream":
                parents[m["content"]["text"]] = m["parent_header"]["msg_id"]
        assert parents == {"late\n": first, "second\n": second}, parents


@check
def history_over_sessions():
    """history: what an earlier kernel ran is found"""
    with Session() as s:
        s.run("const mark_of_history = 1")
        s.kc.shutdown()
        s.km.provisioner.process.wait(5)
    with Session() as s:
        s.kc.history(hist_access_type="search", pattern="*mark_of_history*", n=5)
        found = s.kc.get_shell_msg(timeout=5)["content"]["history"]
        assert found and found[-1][2] == "const mark_of_history = 1", found


@check
def session_lost():
    """a cell that exits leaves the kernel alive and says what was lost"""
    with Session() as s:
        reply, _ = s.run("Deno.exit(3)")
        assert reply["status"] == "error" and "lost" in reply["evalue"], reply
        assert result_of(s.run("6 * 7")[1]) == "42"
        assert s.km.is_alive()


@check
def console():
    """jupyter-console: runs cells and shows their results"""
    done = subprocess.run(
        ["/usr/bin/jupyter-console", "--kernel", KERNEL, "--simple-prompt"],
        input="const a = 'x'.repeat(3)\na\n6 * 7\n",
        capture_output=True, text=True, timeout=120,
    )
    for part in ("Deno", 'Out[2]: "xxx"', "Out[3]: 42"):
        assert part in done.stdout, done.stdout + done.stderr


@check
def nbclient_runs():
    """nbclient: 3 runs of 10 cells, all lines and results; the error is saved"""
    cell = "for (let i = 0; i < 20; i++) console.log('line', i);\n{} * 2"
    for _ in range(3):
        nb = nbformat.v4.new_notebook()
        nb.cells = [nbformat.v4.new_code_cell(cell.format(n)) for n in range(10)]
        NotebookClient(nb, kernel_name=KERNEL, timeout=60).execute()
        for n, done in enumerate(nb.cells):
            text = "".join(o["text"] for o in done.outputs if o.output_type == "stream")
            assert text == "".join(f"line {i}\n" for i in range(20)), text
            results = [o for o in done.outputs if o.output_type == "execute_result"]
            assert results[0]["data"]["text/plain"] == str(n * 2)
    nb = nbformat.v4.new_notebook()
    nb.cells = [nbformat.v4.new_code_cell("throw new RangeError('as asked')")]
    try:
        NotebookClient(nb, kernel_name=KERNEL).execute()
        raise AssertionError("no error")
    except CellExecutionError:
        pass
    assert nb.cells[0].outputs[0]["ename"] == "RangeError"


@check
def nbclient_timeout():
    """nbclient: interrupt_on_timeout stops the cell and the kernel goes on"""
    nb = nbformat.v4.new_notebook()
    nb.cells = [nbformat.v4.new_code_cell(c) for c in ("while (true) {}", "6 * 7")]
    client = NotebookClient(
        nb, kernel_name=KERNEL, timeout=3, interrupt_on_timeout=True, allow_errors=True
    )
    try:
        client.execute()
    except CellTimeoutError as error:
        raise AssertionError("the interrupt had no effect") from error
    assert nb.cells[0].outputs[-1]["output_type"] == "error"
    assert nb.cells[1].outputs[0]["data"]["text/plain"] == "42", nb.cells[1].outputs


def main():
    wanted = sys.argv[1:]
    passed = failed = 0
    for function in CHECKS:
        if wanted and function.__name__ not in wanted:
            continue
        print(f"{function.__name__}: {function.__doc__}", flush=True)
        start = time.monotonic()
        try:
            function()
            passed += 1
            print(f"  ok ({time.monotonic() - start:.1f} s)", flush=True)
        except Exception:
            failed += 1
            print(f"  FAILED ({time.monotonic() - start:.1f} s)\n{traceback.format_exc()}", flush=True)
    print(f"{passed} passed, {failed} failed")
    sys.stdout.flush()
    os._exit(1 if failed else 0)


if __name__ == "__main__":
    main()
