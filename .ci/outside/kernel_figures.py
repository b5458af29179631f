"""Figures of the kernel beside ipykernel's and Deno's own kernel's, measured on
the same machine in the same run. Not a test: it prints a table.

Run: .ci/outside/with_kernel /usr/bin/python3 .ci/outside/kernel_figures.py [kernel…]
FIGURES="startup lost" chooses among them, STRESS=1000 shortens the long one.
"""
import json
import os
import subprocess
import sys
import time
from queue import Empty

import psutil
from jupyter_client.manager import KernelManager

KERNELS = {
    "fringebook": {
        "cell": "console.log('a'); console.log('b'); 6 * 7",
        "waiting": "console.log('a'); await new Promise((r) => setTimeout(r, 20)); 6 * 7",
        "lines": "for (let i = 0; i < 1e6; i++) console.log('line', i)",
        "await": "await new Promise((r) => setTimeout(r, 60000))",
        "loop": "while (true) {}",
    },
    "python3": {
        "cell": "print('a'); print('b'); 6 * 7",
        "waiting": "print('a'); import asyncio; await asyncio.sleep(0.02); 6 * 7",
        "lines": "for i in range(1_000_000): print('line', i)",
        "await": "import asyncio; await asyncio.sleep(60)",
        "loop": "while True: pass",
    },
}
KERNELS["deno"] = KERNELS["fringebook"]


def install_builtin():
    """A kernelspec for the kernel that Deno brings along."""
    deno = json.loads(
        subprocess.check_output(["deno", "eval", "console.log(JSON.stringify(Deno.execPath()))"])
    )
    folder = os.path.join(os.environ["JUPYTER_DATA_DIR"], "kernels", "deno")
    os.makedirs(folder, exist_ok=True)
    spec = {
        "argv": [deno, "jupyter", "--kernel", "--conn", "{connection_file}"],
        "display_name": "Deno",
        "language": "typescript",
        "interrupt_mode": "message",
    }
    with open(os.path.join(folder, "kernel.json"), "w") as file:
        json.dump(spec, file)


class Kernel:
    def __init__(self, name, **start):
        self.km = KernelManager(kernel_name=name)
        self.km.start_kernel(**start, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        self.connect()

    def connect(self):
        self.kc = self.km.blocking_client()
        self.kc.start_channels()
        self.kc.wait_for_ready(timeout=60)

    def close(self):
        self.kc.stop_channels()
        self.km.shutdown_kernel(now=True)

    def run(self, code, timeout=60):
        """Runs a cell as clients do: until reply and idle; what came till then."""
        msg_id = self.kc.execute(code)
        reply, idle, messages = None, False, []
        deadline = time.monotonic() + timeout
        while not (reply and idle):
            if time.monotonic() > deadline:
                raise TimeoutError
            if not idle:
                try:
                    m = self.kc.get_iopub_msg(timeout=1)
                    if m["parent_header"].get("msg_id") == msg_id:
                        messages.append(m)
                        idle = m["content"].get("execution_state") == "idle"
                except Empty:
                    pass
            else:
                try:
                    m = self.kc.get_shell_msg(timeout=1)
                    if m["parent_header"].get("msg_id") == msg_id:
                        reply = m["content"]
                except Empty:
                    pass
        return reply, messages

    def family(self):
        kernel = psutil.Process(self.km.provisioner.pid)
        return [kernel] + kernel.children(recursive=True)

    def rss(self):
        return sum(p.memory_info().rss for p in self.family()) / 2**20


def startup(name, _):
    times = []
    for _n in range(5):
        start = time.monotonic()
        kernel = Kernel(name)
        kernel.run("6 * 7")
        times.append(time.monotonic() - start)
        kernel.close()
    return f"{sorted(times)[2]:.2f} s"


def round_trip(name, _):
    kernel = Kernel(name)
    for _n in range(50):
        kernel.run("1+1")
    times = []
    for _n in range(1000):
        start = time.perf_counter()
        kernel.run("1+1")
        times.append((time.perf_counter() - start) * 1000)
    kernel.close()
    times.sort()
    return f"{times[500]:.2f} ms, {times[989]:.2f} ms"


def first_result(name, _):
    """A first cell that reads a capture and measures it, with its figures, in a
    kernel that has rested for 3 s since its start."""
    if name != "fringebook":
        return "–"
    folder = os.path.join(os.path.dirname(__file__), "..", "..", "notebooks")
    cell = """import { measureMotion, readCapture } from "fringebook";
const capture = await readCapture("../datasets/motor-away.csv");
measureMotion(capture, { wavelength: "650nm" })"""
    times = []
    for _n in range(3):
        kernel = Kernel(name, cwd=folder)
        time.sleep(3)
        start = time.monotonic()
        reply, messages = kernel.run(cell)
        times.append(time.monotonic() - start)
        kernel.close()
        if not any("text/html" in m["content"].get("data", {}) for m in messages):
            raise ValueError(json.dumps(reply))
    return f"{sorted(times)[1]:.2f} s (at most {max(times):.2f} s)"


def rest(name, _):
    """Resident memory after a cell and a pause."""
    kernel = Kernel(name)
    kernel.run("1+1")
    time.sleep(3)
    shares = [p.memory_info().rss / 2**20 for p in kernel.family()]
    own = sum(p.memory_full_info().pss for p in kernel.family()) / 2**20
    kernel.close()
    return f"{sum(shares):.0f} MiB ({own:.0f} without what is shared)"


def losses(kernel, code, total):
    """Messages that were not there at idle, of text and result."""
    missing = failed = 0
    for _n in range(total):
        try:
            _reply, messages = kernel.run(code, 20)
        except TimeoutError:
            failed += 1
            continue
        kinds = [m["msg_type"] for m in messages]
        text = "".join(m["content"]["text"] for m in messages if m["msg_type"] == "stream")
        missing += "execute_result" not in kinds
        missing += text not in ("a\nb\n", "a\n")
    return missing, failed


def lost(name, codes):
    total = int(os.environ.get("STRESS", "10000"))
    kernel = Kernel(name)
    missing, failed = losses(kernel, codes["cell"], total)
    waiting = losses(kernel, codes["waiting"], total // 20)
    kernel.close()
    return (
        f"{missing} of {total} cells, {waiting[0]} of {total // 20} cells that wait"
        + (f"; {failed + waiting[1]} never ended" if failed + waiting[1] else "")
    )


def lines(name, codes):
    kernel = Kernel(name)
    kernel.run("1")
    before = peak = kernel.rss()
    start = time.monotonic()
    msg_id = kernel.kc.execute(codes["lines"])
    count, ended, last = 0, False, 0.0
    while not ended:
        try:
            m = kernel.kc.get_iopub_msg(timeout=10)
        except Empty:
            break
        if time.monotonic() - last > 0.1:
            peak, last = max(peak, kernel.rss()), time.monotonic()
        if m["parent_header"].get("msg_id") == msg_id:
            if m["msg_type"] == "stream":
                count += m["content"]["text"].count("\n")
            ended = m["content"].get("execution_state") == "idle"
    took = time.monotonic() - start
    kernel.close()
    return f"{count} lines at idle, {took:.1f} s, {before:.0f} → {peak:.0f} MiB"


def interrupt(name, codes):
    texts = []
    for kind in ("await", "loop"):
        kernel = Kernel(name)
        kernel.run("1")
        times = []
        try:
            for _n in range(5):
                msg_id = kernel.kc.execute(codes[kind])
                time.sleep(0.4)
                start = time.monotonic()
                kernel.km.interrupt_kernel()
                while True:
                    m = kernel.kc.get_shell_msg(timeout=10)
                    if m["parent_header"]["msg_id"] == msg_id:
                        break
                times.append((time.monotonic() - start) * 1000)
            texts.append(f"{kind} {sorted(times)[len(times) // 2]:.0f} ms")
        except Exception:
            texts.append(f"{kind}: no effect in 10 s")
        kernel.close()
    return ", ".join(texts)


def restarts(name, _):
    kernel = Kernel(name)
    done, times = 0, []
    try:
        for _n in range(20):
            start = time.monotonic()
            kernel.km.restart_kernel(newports=False)
            kernel.kc.stop_channels()
            kernel.connect()
            kernel.run("1")
            times.append(time.monotonic() - start)
            done += 1
    except Exception:
        pass
    kernel.close()
    median = f", median {sorted(times)[len(times) // 2]:.2f} s" if times else ""
    return f"{done} of 20{median}"


FIGURES = {
    "start until the first result (median of 5)": startup,
    "`1+1` until reply and idle (median, 99th percentile of 1000)": round_trip,
    "first result of a notebook, kernel warm": first_result,
    "memory at rest": rest,
    "text or result not there at idle": lost,
    "10⁶ lines (memory of all processes)": lines,
    "interrupt until reply": interrupt,
    "restarts on the same ports": restarts,
}


def main():
    install_builtin()
    names = sys.argv[1:] or list(KERNELS)
    print("| figure | " + " | ".join(names) + " |")
    print("| --- |" + " --- |" * len(names))
    chosen = os.environ.get("FIGURES", "").split()
    for title, measure in FIGURES.items():
        if chosen and measure.__name__ not in chosen:
            continue
        values = []
        for name in names:
            try:
                values.append(measure(name, KERNELS[name]))
            except Exception as error:
                values.append(f"failed: {type(error).__name__}")
        print(f"| {title} | " + " | ".join(values) + " |", flush=True)
    os._exit(0)


if __name__ == "__main__":
    main()
