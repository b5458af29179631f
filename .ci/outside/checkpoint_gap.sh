#!/usr/bin/env bash
# The longest computation that no interrupt gets through. It is held to a time of
# the processor, and runs alone.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec npx -y deno@2.9.6 run -A --no-check --lock=lib/runtime/packages.lock \
  .ci/outside/checkpoint_gap.ts "$@"
