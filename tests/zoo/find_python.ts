/** The first python3 on the path may be one without SciPy. */
const candidates = ["python3", "/usr/bin/python3", "python"];

/**
 * The first Python that has NumPy and SciPy.
 *
 * @throws {Error} If none has.
 */
export async function findPython(asked?: string): Promise<string> {
  for (const python of asked === undefined ? candidates : [asked]) {
    try {
      const { success } = await new Deno.Command(python, {
        args: ["-c", "import numpy, scipy.signal"],
        stdout: "null",
        stderr: "null",
      }).output();
      if (success) return python;
    } catch {
      // Not there: the next.
    }
  }
  throw new Error(
    `Cannot run the zoo: no Python with SciPy was found (tried ${
      (asked === undefined ? candidates : [asked]).join(", ")
    }). Install python3-scipy, or say where it is with --python`,
  );
}
