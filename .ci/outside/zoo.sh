#!/usr/bin/env bash
# The zoo: its simulator against what is known without it, then a third of its
# benches against what was reached (tests/zoo/gates.json).
set -uo pipefail
cd "$(dirname "$0")/../.."
python=python3
"$python" -c "import scipy" 2>/dev/null || python=/usr/bin/python3
log=$(mktemp)
OPENBLAS_NUM_THREADS=1 "$python" tests/zoo/check_simulator.py 2>&1 | tee "$log"
npx -y deno@2.9.6 run -A --no-check tests/zoo/zoo.ts --quick --no-bound --gates \
  --python "$python" --output "$(mktemp -d)" 2>&1 | tee -a "$log"
passed=$(grep -aoE '^[0-9]+ passed' "$log" | awk '{n += $1} END {print n + 0}')
failed=$(grep -aoE '[0-9]+ failed$' "$log" | awk '{n += $1} END {print n + 0}')
# Two counts, or a part fell over.
parts=$(grep -acE '^[0-9]+ passed' "$log")
[ "$parts" -eq 2 ] || failed=$((failed + 1))
echo "$passed passed, $failed failed"
[ "$failed" -eq 0 ]
