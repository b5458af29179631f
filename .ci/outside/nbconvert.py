"""nbconvert --execute on every tutorial: each must run to its end.

Run: .ci/outside/with_kernel /usr/bin/python3 .ci/outside/nbconvert.py [notebook…]
"""
import pathlib
import subprocess
import sys
import tempfile
import time

import nbformat

PROJECT = pathlib.Path(__file__).resolve().parents[2]


def execute(notebook, folder):
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
        return done.stderr[done.stderr.rfind("CellExecutionError"):][:3000] or done.stderr
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
    print(f"  {len(cells)} cells, {pictures} pictures", flush=True)
    return None


def main():
    given = [pathlib.Path(path).resolve() for path in sys.argv[1:]]
    notebooks = given or sorted((PROJECT / "notebooks").glob("*.ipynb"))
    passed = failed = 0
    for notebook in notebooks:
        print(notebook.name, flush=True)
        start = time.monotonic()
        with tempfile.TemporaryDirectory() as folder:
            wrong = execute(notebook, pathlib.Path(folder))
        if wrong is None:
            passed += 1
            print(f"  ok ({time.monotonic() - start:.1f} s)", flush=True)
        else:
            failed += 1
            print(f"  FAILED\n{wrong}", flush=True)
    print(f"{passed} passed, {failed} failed")
    sys.exit(1 if failed or not passed else 0)


if __name__ == "__main__":
    main()
