#!/usr/bin/env bash
# The zoo's simulator against what is known without it.
set -euo pipefail
cd "$(dirname "$0")/../.."
python=python3
"$python" -c "import scipy" 2>/dev/null || python=/usr/bin/python3
OPENBLAS_NUM_THREADS=1 exec "$python" tests/zoo/check_simulator.py
