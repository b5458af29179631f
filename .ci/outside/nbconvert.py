"""nbconvert --execute on every tutorial: each must run to its end.

Run: .ci/outside/with_kernel /usr/bin/python3 .ci/outside/nbconvert.py [notebook…]
"""
import concurrent.futures
import pathlib
import subprocess
import sys
import tempfile
import time

import nbformat

PROJECT = pathlib.Path(__file__).resolve().parents[2]


def execute(notebook, folder, said):
    """Runs a notebook; gives what is wrong with the outcome, or None."""
    done = subprocess.run(
        [
            "/usr/bin/jupyter-nbconvert", "--to", "notebook", "--execute",
            "--ExecutePreprocessor.kernel_name=fringebook",
            "--ExecutePreprocessor.timeout=300",
            "--output-dir", str(folder), str(notebook),
        ],
        capture_output=True, text=True,
    )
    if done.returncode != 0:
        at = done.stderr.rfind("CellExecutionError")
        return done.stderr[at:][:3000] if at >= 0 else done.stderr[-3000:]
    outcome = nbformat.read(folder / notebook.name, as_version=4)
    nbformat.validate(outcome)
    cells = [c for c in outcome.cells if c.cell_type == "code" and c.source.strip()]
    for cell in cells:
        if cell.execution_count is None:
            return f"a cell was not run: {cell.source[:200]}"
        for output in cell.outputs:
            if output.output_type == "error":
                return "\n".join(output.traceback)
            if output.output_type in ("display_data", "execute_result"):
                if "text/plain" not in output.data:
                    return f"an output has no text: {cell.source[:200]}"
    pictures = sum(
        "image/png" in o.get("data", {}) or "image/svg+xml" in o.get("data", {})
        for c in cells for o in c.outputs
    )
    said.append(f"  {len(cells)} cells, {pictures} pictures")
    return None


def visit(notebook):
    """Gives what is wrong with a notebook, or None, and what to print."""
    said = [notebook.name]
    start = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        wrong = execute(notebook, pathlib.Path(folder), said)
    if wrong is None:
        said.append(f"  ok ({time.monotonic() - start:.1f} s)")
    else:
        said.append(f"  FAILED\n{wrong}")
    return wrong, said


def main():
    given = [pathlib.Path(path).resolve() for path in sys.argv[1:]]
    notebooks = given or sorted((PROJECT / "notebooks").glob("*.ipynb"))
    passed = failed = 0
    # Two at a time: one notebook leaves a processor idle.
    with concurrent.futures.ThreadPoolExecutor(2) as lanes:
        for wrong, said in lanes.map(visit, notebooks):
            passed += wrong is None
            failed += wrong is not None
            print("\n".join(said), flush=True)
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed or not passed else 0)


if __name__ == "__main__":
    main()
