#!/usr/bin/env bash
# The whole jupyter_kernel_test suite, none skipped.
set -euo pipefail
cd "$(dirname "$0")/../.."
exec .ci/outside/with_kernel /usr/bin/python3 .ci/outside/kernel_test.py "$@"
