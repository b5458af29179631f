/** Throws unless all values are finite numbers; says which one is not. */
export function checkFinite(
  values: ArrayLike<unknown>,
  what: string,
  name: string,
): void {
  for (let i = 0; i < values.length; i++) {
    if (!Number.isFinite(values[i])) {
      throw new RangeError(
        `Cannot ${what} as '${name}' must hold finite numbers: value ${i} is ${
          values[i]
        }`,
      );
    }
  }
}

/** Throws unless two lists are equally long. */
export function checkLength(
  values: ArrayLike<unknown>,
  length: number,
  what: string,
  name: string,
): void {
  if (values.length !== length) {
    throw new RangeError(
      `Cannot ${what} as '${name}' must have ${length} values: it has ${values.length}`,
    );
  }
}

/** One positive number or one per point, as one per point. */
export function perPoint(
  value: number | ArrayLike<number>,
  length: number,
  what: string,
  name: string,
  allowZero = false,
): Float64Array {
  const values = typeof value === "number"
    ? new Float64Array(length).fill(value)
    : value instanceof Float64Array
    ? value.slice()
    : Float64Array.from(value);
  checkLength(values, length, what, name);
  checkFinite(values, what, name);
  for (let i = 0; i < length; i++) {
    if (values[i]! < 0 || (!allowZero && values[i] === 0)) {
      throw new RangeError(
        `Cannot ${what} as '${name}' must hold ${
          allowZero ? "numbers not below zero" : "positive numbers"
        }: value ${i} is ${values[i]}`,
      );
    }
  }
  return values;
}

/** Throws unless there are more points than parameters. */
export function checkPoints(
  points: number,
  parameters: number,
  what: string,
): void {
  if (points < parameters) {
    throw new RangeError(
      `Cannot ${what} as ${parameters} parameters need at least ${parameters} points: there are ${points}. Add points`,
    );
  }
}
