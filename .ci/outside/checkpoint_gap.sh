#!/usr/bin/env bash
# The longest computation that no interrupt gets through, of every function that
# takes a capture; it is held to a time of the processor and runs alone.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec npx -y deno@2.9.6 test -A --no-check --lock=lib/runtime/packages.lock \
  tests/progress/checkpoint_gap_alone.ts
