#!/usr/bin/env bash
# The Notebook page in a browser: run all, plots, input, interrupt.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec .ci/outside/with_kernel npx -y deno@2.9.6 run -A .ci/outside/notebook_page.ts "$@"
