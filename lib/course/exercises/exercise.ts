/** A wrong way that an exercise invites, and what comes out of it. */
export interface TypicalMistake {
  /** What went wrong, in a few words. */
  readonly cause: string;
  /** The value that comes out then, in the unit of the exercise. */
  readonly value: number;
  /** One plain sentence that helps to find it. */
  readonly hint: string;
}

/** An exercise with its hidden truth. */
export interface Exercise {
  /** Short stable name, such as `"fringes.travel"`. */
  readonly name: string;
  /** The true value, in `unit`. */
  readonly truth: number;
  /** SI unit symbol without prefix. */
  readonly unit: string;
  /** Largest relative error that counts as right (1). */
  readonly relativeTolerance: number;
  /** Whether an uncertainty belongs to the answer. */
  readonly needsUncertainty: boolean;
  /** What typically goes wrong; also sign and prefix are recognised. */
  readonly mistakes: readonly TypicalMistake[];
  /** Where to look again; ends the sentence "look at …". */
  readonly lookAt: string;
}

/** Fills in what most exercises of the notebooks share. */
export function exercise(
  name: string,
  truth: number,
  unit: string,
  lookAt: string,
  mistakes: readonly TypicalMistake[] = [],
  relativeTolerance = 0.01,
): Exercise {
  return {
    name,
    truth,
    unit,
    relativeTolerance,
    needsUncertainty: false,
    mistakes,
    lookAt,
  };
}

/**
 * A mistake: its hint says how the value comes out, which is so wherever the
 * value fits, and then asks.
 */
export function mistake(
  cause: string,
  value: number,
  how: string,
  question: string,
): TypicalMistake {
  return { cause, value, hint: `Your value comes out ${how}. ${question}` };
}

/** One fringe or step taken for a whole wavelength. */
export function wholeWavelength(value: number): TypicalMistake {
  return mistake(
    "a whole wavelength for half of one",
    value,
    "when one fringe stands for a whole wavelength",
    "How far does the target move for one fringe, when the light goes there and back?",
  );
}

/** A frequency where an angular frequency belongs. */
export function withoutTurn(value: number): TypicalMistake {
  return mistake(
    "2π forgotten",
    value,
    "without the factor 2π",
    "Does a frequency or an angular frequency belong there?",
  );
}

/** An angle in degrees given to a function that takes radians. */
export function degrees(value: number): TypicalMistake {
  return mistake(
    "degrees for radians",
    value,
    "when an angle in degrees stands where radians belong",
    "What do the functions of the language take?",
  );
}

/** From one turning point to the other, for the amplitude. */
export function peakToPeak(value: number): TypicalMistake {
  return mistake(
    "peak to peak for the amplitude",
    value,
    "when the way from one turning point to the other is taken for the amplitude",
    "From where to where does an amplitude go?",
  );
}

/** A share in percent where a pure number is asked for. */
export function inPercent(value: number): TypicalMistake {
  return mistake(
    "percent",
    value,
    "in percent",
    "The unit is '1': which number is that?",
  );
}

/** Shares of an uncertainty added as they are. */
export function addedStraight(value: number): TypicalMistake {
  return mistake(
    "shares added as they are",
    value,
    "when the shares are added as they are",
    "How do shares that are independent of each other add up?",
  );
}
