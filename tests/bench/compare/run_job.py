"""Holds one job and runs it for each line on standard input; answers with time
and memory: python3 run_job.py '{"file": …, "name": …, "options": …}'"""
import importlib.util
import json
import sys
import time


def peak_memory():
    try:
        with open("/proc/self/status") as status:
            for line in status:
                if line.startswith("VmHWM:"):
                    return int(line.split()[1]) * 1024
    except OSError:
        pass
    return None


job = json.loads(sys.argv[1])
spec = importlib.util.spec_from_file_location("job", job["file"])
module = importlib.util.module_from_spec(spec)
spec.loader.exec_module(module)
work = getattr(module, job["name"])(job["options"])
print('"ready"', flush=True)
for line in sys.stdin:
    started, cpu = time.perf_counter(), time.process_time()
    result = work()
    wall = time.perf_counter() - started
    print(
        json.dumps(
            {
                "wall": wall,
                "cpu": time.process_time() - cpu,
                "peak": peak_memory(),
            }
        ),
        flush=True,
    )
    del result
