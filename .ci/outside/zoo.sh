#!/usr/bin/env bash
# The zoo: the second simulator checked by itself, then a third of its benches,
# held against what was reached (tests/zoo/gates.json).
set -uo pipefail
cd "$(dirname "$0")/../.."
command -v deno >/dev/null || deno() { npx -y deno@2.9.6 "$@"; }
python=python3
"$python" -c "import scipy" 2>/dev/null || python=/usr/bin/python3
log=$(mktemp)
OPENBLAS_NUM_THREADS=1 "$python" tests/zoo/check_simulator.py | tee "$log"
deno run -A tests/zoo/zoo.ts --quick --gates --python "$python" --output out/zoo |
  tee -a "$log"
sum() { grep -aoE "^[0-9]+ passed, [0-9]+ failed" "$log" | awk "{s+=\$$1} END {print s+0}"; }
# A suite that died printed no count of its own.
counts=$(grep -acE "^[0-9]+ passed, [0-9]+ failed" "$log")
failed=$(($(sum 3) + 2 - counts))
echo "$(sum 1) passed, $failed failed"
[ "$failed" -eq 0 ]
