#!/usr/bin/env bash
# The live view in the Notebook page: a simulated bench, a pipe at 192 kS/s, an
# instrument on a local port; stopped by both buttons, seen again untrusted.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec .ci/outside/with_kernel npx -y deno@2.9.6 run -A .ci/outside/live_bench.ts "$@"
