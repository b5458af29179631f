const names = ["_", "__", "___"] as const;

/**
 * The values of the last cells under `_`, `__` and `___`, the latest first. A
 * cell that declares such a name itself has it for itself.
 */
export class LastValues {
  readonly #values: unknown[] = [];

  /** Puts the names on the global scope. */
  install(): void {
    for (const [k, name] of names.entries()) {
      Object.defineProperty(globalThis, name, {
        get: () => this.#values[k],
        set: (value: unknown) =>
          Object.defineProperty(globalThis, name, {
            value,
            writable: true,
            configurable: true,
          }),
        configurable: true,
        enumerable: false,
      });
    }
  }

  /** Takes the value of a cell. */
  add(value: unknown): void {
    this.#values.unshift(value);
    this.#values.length = Math.min(this.#values.length, names.length);
  }
}
