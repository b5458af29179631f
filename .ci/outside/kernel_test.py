"""The whole jupyter_kernel_test suite, every attribute filled, none skipped.

Run: .ci/outside/with_kernel /usr/bin/python3 .ci/outside/kernel_test.py
"""
import sys
import unittest

import jupyter_kernel_test


class FringebookKernelTests(jupyter_kernel_test.KernelTests):
    kernel_name = "fringebook"
    language_name = "typescript"
    file_extension = ".ts"
    code_hello_world = "console.log('hello, world')"
    code_stderr = "console.error('a problem')"
    completion_samples = [
        {"text": "Math.flo", "matches": ["floor"]},
        {"text": "const a = JSON.stri", "matches": ["stringify"]},
        {"text": "no_such_name.x", "matches": []},
    ]
    complete_code_samples = ["1", "const a = 1;", "function f() { return 1 }", "[1, 2]"]
    incomplete_code_samples = ["function f() {", "const a = [1,", "`text", "f(", "/* note"]
    invalid_code_samples = ["const = 1", "1 +* 2", "let x = }", "if (true) )"]
    code_page_something = "cell.page('a long text')"
    code_generate_error = "throw new Error('as asked')"
    code_execute_result = [
        {"code": "1 + 2 + 3", "result": "6"},
        {"code": "'a' + 'b'", "result": '"ab"'},
        {"code": "[1, 2, 3].map((n) => n * 111)", "result": "[ 111, 222, 333 ]"},
        {"code": "await Promise.resolve(10n)", "result": "10n"},
        {"code": "null", "result": "null"},
    ]
    code_display_data = [
        {"code": "cell.display('shown')", "mime": "text/plain"},
        {
            "code": "cell.display({'text/html': '<b>shown</b>'}, { raw: true })",
            "mime": "text/html",
        },
    ]
    supported_history_operations = ("tail", "range", "search")
    code_history_pattern = "1 + ?*"
    code_inspect_sample = "Math.max"
    code_clear_output = "cell.clearOutput()"

    def test_no_attribute_is_empty(self):
        for name in dir(jupyter_kernel_test.KernelTests):
            if name.startswith("code_") or name.endswith("_samples"):
                self.assertTrue(getattr(self, name), name)


if __name__ == "__main__":
    suite = unittest.defaultTestLoader.loadTestsFromTestCase(FringebookKernelTests)
    result = unittest.TextTestRunner(verbosity=2).run(suite)
    bad = len(result.failures) + len(result.errors)
    skipped = len(result.skipped)
    print(f"{result.testsRun - bad - skipped} passed, {bad + skipped} failed ({skipped} skipped)")
    sys.exit(1 if bad + skipped else 0)
