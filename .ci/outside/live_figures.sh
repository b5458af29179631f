#!/usr/bin/env bash
# Figures in the Notebook page: live, zoomed, reopened, untrusted, exported.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec .ci/outside/with_kernel npx -y deno@2.9.6 run -A .ci/outside/live_figures.ts "$@"
