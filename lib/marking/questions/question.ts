import { allowanceOf } from "./allowance.ts";
import { refuseUnknownFields } from "./refuse_fields.ts";

/** A typical mistake of a question. */
export interface QuestionMistake {
  /** What went wrong, in a few words. */
  readonly cause: string;
  /** What comes out then: a formula, or the wrong choice. */
  readonly value: string;
  /** What the student is told. */
  readonly hint: string;
  /** Points for an answer that fits this mistake. */
  readonly points: number;
}

/** Points of a question. */
export interface QuestionPoints {
  /** For a right value or choice. */
  readonly value: number;
  /** For an uncertainty of the right size, with a right value. */
  readonly uncertainty: number;
  /** For an uncertainty that covers the error, with a right value. */
  readonly coverage: number;
}

/**
 * A question of an assignment: plain data in the words of the questions file,
 * with all that it left out filled in.
 */
export interface Question {
  /** Name in `recordAnswer`, such as `"distance"`. */
  readonly name: string;
  /** Whether a number or one of several choices is asked for. */
  readonly kind: "number" | "choice";
  /** What is asked, in Markdown; empty where the notebook says it. */
  readonly text: string;
  /** SI unit of the answer, without prefix; empty for a choice. */
  readonly unit: string;
  /** Capture that it is about, whose values formulas may use; empty for none. */
  readonly capture: string;
  /** The true value as a formula, or the right choice. */
  readonly truth: string;
  /**
   * Standard uncertainty that careful work reaches, such as `"0.05 %"` or
   * `"0.2 mm"`; empty where no uncertainty is asked for.
   */
  readonly reachable: string;
  /** Largest error of a right value, such as `"0.25 %"` or `"0.4 mm"`. */
  readonly tolerance: string;
  readonly points: QuestionPoints;
  /** The choices, by the letter that is recorded. */
  readonly choices: Readonly<Record<string, string>>;
  /** What typically goes wrong. */
  readonly mistakes: readonly QuestionMistake[];
  /** The model answer in words, in Markdown; for the teacher alone. */
  readonly solution: string;
}

const fields: readonly string[] = [
  ...["name", "kind", "text", "unit", "capture", "truth", "reachable"],
  ...["tolerance", "points", "choices", "mistakes", "solution"],
];

type Fail = (why: string) => never;

/**
 * Fills in what a question leaves out: with `reachable`, a right value is within
 * three times that and points are 2, 1 and 1; without, 1 point for a right one.
 *
 * @param given The question as it stands in a file.
 * @param index Its place, from 0, for messages.
 * @returns The complete question; one that is complete comes back as it is.
 * @throws {TypeError} If something is missing or has no meaning.
 */
export function completeQuestion(given: unknown, index: number): Question {
  const own = recordOf(given);
  const name = textOf(own?.["name"]);
  const fail: Fail = (why) => {
    throw new TypeError(
      `Cannot use question ${index + 1}${
        name === null ? "" : ` ('${name}')`
      } as ${why}`,
    );
  };
  if (own === null) return fail("it is no list of fields");
  refuseUnknownFields(own, fields, fail);
  if (name === null || !/^[\p{L}\p{N}_-]{1,60}$/u.test(name)) {
    return fail(
      "it needs a 'name' of letters, digits, '-' and '_', such as 'distance'",
    );
  }
  const choices = choicesOf(own["choices"], fail);
  const kind = Object.keys(choices).length > 0 ? "choice" : "number";
  if (own["kind"] !== undefined && own["kind"] !== kind) {
    fail(`its 'kind' is '${own["kind"]}', and its other fields make a ${kind}`);
  }
  const read = (field: string, otherwise = "") =>
    [undefined, null, ""].includes(own[field] as string)
      ? otherwise
      : textOf(own[field]) ?? fail(`'${field}' must be a text or a number`);
  const truth = read("truth");
  if (truth === "") fail("it needs a 'truth'");
  const reachable = read("reachable");
  const question = {
    name,
    kind,
    text: read("text"),
    unit: read("unit", kind === "number" ? "1" : ""),
    capture: read("capture"),
    truth,
    reachable,
    tolerance: read("tolerance", threeTimes(reachable)),
    points: pointsOf(own["points"], reachable !== "", fail),
    choices,
    mistakes: mistakesOf(own["mistakes"], fail),
    solution: read("solution"),
  } as const;
  if (kind === "number") checkNumber(question, fail);
  else checkChoice(question, fail);
  return question;
}

function checkNumber(question: Question, fail: Fail): void {
  const { unit, reachable, tolerance } = question;
  if (tolerance === "") {
    fail(
      "it needs 'reachable', the standard uncertainty that careful work reaches, or a 'tolerance', such as '0.5 %' or '0.2 mm'",
    );
  }
  for (const [field, text] of Object.entries({ reachable, tolerance })) {
    if (text === "" || allowanceOf(text, unit, 1) !== null) continue;
    fail(
      `'${field}' must be a positive share such as '0.5 %', or an amount in '${unit}' with or without a prefix: current value is '${text}'`,
    );
  }
}

function checkChoice(question: Question, fail: Fail): void {
  const letters = Object.keys(question.choices);
  const wanted = [
    question.truth,
    ...question.mistakes.map(({ value }) => value),
  ];
  const odd = wanted.find((letter) => !letters.includes(letter));
  if (odd !== undefined) {
    fail(`'${odd}' is none of its choices: they are ${letters.join(", ")}`);
  }
  if (question.mistakes.some(({ value }) => value === question.truth)) {
    fail(`a mistake names the right choice '${question.truth}'`);
  }
  if (letters.length < 2) fail("it needs at least two choices");
}

function choicesOf(given: unknown, fail: Fail): Record<string, string> {
  if (given === undefined) return {};
  const own = recordOf(given) ?? fail("'choices' must be lines 'letter: text'");
  return Object.fromEntries(
    Object.entries(own).map(([letter, text]) => [
      letter,
      textOf(text) ?? fail(`the choice '${letter}' has no text`),
    ]),
  );
}

function pointsOf(
  given: unknown,
  withUncertainty: boolean,
  fail: Fail,
): QuestionPoints {
  const own = typeof given === "number"
    ? { value: given }
    : recordOf(given ?? {}) ?? fail("'points' must be a number or fields");
  const usual = withUncertainty && typeof given !== "number"
    ? { value: 2, uncertainty: 1, coverage: 1 }
    : { value: 1, uncertainty: 0, coverage: 0 };
  const points = { ...usual, ...own };
  for (const [field, value] of Object.entries(points)) {
    if (!Object.hasOwn(usual, field)) {
      fail(`'points' has 'value', 'uncertainty' and 'coverage', no '${field}'`);
    }
    if (typeof value !== "number" || !(value >= 0 && value < 1e6)) {
      fail(`its points must be numbers that are not negative`);
    }
  }
  if (!withUncertainty && points.uncertainty + points.coverage > 0) {
    fail(
      "points for an uncertainty need 'reachable', the standard uncertainty that careful work reaches",
    );
  }
  return points;
}

function mistakesOf(given: unknown, fail: Fail): QuestionMistake[] {
  if (given === undefined || given === null) return [];
  if (!Array.isArray(given)) return fail("'mistakes' must be a list");
  return given.map((each) => {
    const own = recordOf(each) ?? {};
    const [cause, value, hint] = ["cause", "value", "hint"].map((field) =>
      textOf(own[field]) ??
        fail("each mistake needs a 'cause', a 'value' and a 'hint'")
    );
    const points = own["points"] ?? 0;
    if (typeof points !== "number" || !(points >= 0 && points < 1e6)) {
      return fail("the points of a mistake must be a number, not negative");
    }
    return { cause: cause!, value: value!, hint: hint!, points };
  });
}

/** "0.15 %" for "0.05 %". */
function threeTimes(text: string): string {
  const found = /^\s*([\d.,eE+-]+)(.*)$/.exec(text);
  if (found === null) return "";
  const number = 3 * Number(found[1]!.replace(",", "."));
  return `${Number(number.toPrecision(6))}${found[2]}`;
}

function recordOf(value: unknown): Record<string, unknown> | null {
  return typeof value === "object" && value !== null && !Array.isArray(value)
    ? value as Record<string, unknown>
    : null;
}

/** A text, or a number as text; `null` for anything else. */
function textOf(value: unknown): string | null {
  if (typeof value === "number" && Number.isFinite(value)) return String(value);
  return typeof value === "string" && value.trim() !== "" ? value.trim() : null;
}

/** Most points of a question. */
export function maximumOf({ points }: Question): number {
  return points.value + points.uncertainty + points.coverage;
}
