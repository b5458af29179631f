#!/usr/bin/env bash
# nbconvert --execute on every tutorial.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec .ci/outside/with_kernel /usr/bin/python3 .ci/outside/nbconvert.py "$@"
