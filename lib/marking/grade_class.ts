import { nearestName } from "../options/mod.ts";
import type { PointsByHand } from "./by_hand.ts";
import type { HandInRun } from "./hand_in/mod.ts";
import type { HandoutKey, StudentKey } from "./handout_key.ts";
import { type AnswerMark, markAnswer } from "./mark_answer.ts";
import { completeQuestion, maximumOf, type Question } from "./questions/mod.ts";

/** Points that the teacher gave by hand for one criterion. */
export interface HandMark {
  /** Points; `null` while it is not marked. */
  readonly points: number | null;
  readonly maximum: number;
}

/** Points of one hand-in. */
export interface HandInMark {
  readonly student: string;
  readonly folder: string;
  /** How the notebook ran, in one line. */
  readonly run: string;
  /** Whether it ran to the end. */
  readonly complete: boolean;
  /** Points and reasons of each question, by its name. */
  readonly answers: Readonly<Record<string, AnswerMark>>;
  /** What is marked by hand, by its name. */
  readonly byHand: Readonly<Record<string, HandMark>>;
  readonly points: number;
  readonly maximum: number;
  /** What a teacher should look at: copies, captures of others, odd names. */
  readonly notes: readonly string[];
  /** Processor time, in s. */
  readonly cpuTime: number;
  /** Time by the clock, in s. */
  readonly duration: number;
}

/** A run with the student whose it is. */
export interface StudentRun {
  readonly student: StudentKey;
  readonly run: HandInRun;
}

/** Least share of its own cells that makes a hand-in look like another (1). */
const sameText = 0.8;

/**
 * Points of a class from what its hand-ins answered: nothing is run.
 *
 * @param runs The hand-ins that were run.
 * @param key Questions and truths.
 * @param byHand What the teacher gave by hand.
 * @returns A mark per hand-in, in the order of the runs.
 */
export function gradeClass(
  runs: readonly StudentRun[],
  key: HandoutKey,
  byHand: PointsByHand = new Map(),
): HandInMark[] {
  const questions = key.questions.map(completeQuestion);
  return runs.map((each) => {
    const given = byHand.get(each.student.student);
    const marks = key.criteria.map(({ name, points }) =>
      [name, { points: given?.get(name) ?? null, maximum: points }] as const
    );
    return grade(
      each,
      questions,
      Object.fromEntries(marks),
      notesOf(each, runs, key),
    );
  });
}

function grade(
  { student, run }: StudentRun,
  questions: readonly Question[],
  byHand: HandInMark["byHand"],
  notes: readonly string[],
): HandInMark {
  const answers = Object.fromEntries(questions.map((question) => {
    const { name } = question;
    const given = Object.hasOwn(run.answers, name) ? run.answers[name]! : null;
    return [
      name,
      markAnswer(given, question, {
        truth: student.truth[name] ?? NaN,
        expandedUncertainty: student.expandedUncertainty[name] ?? 0,
        names: student.names[name] ?? {},
      }),
    ];
  }));
  return {
    student: student.student,
    folder: student.folder,
    run: run.run,
    complete: run.complete,
    answers,
    byHand,
    points: [...Object.values(answers), ...Object.values(byHand)]
      .reduce((sum, { points }) => sum + (points ?? 0), 0),
    maximum: questions.reduce((sum, each) => sum + maximumOf(each), 0) +
      Object.values(byHand).reduce((sum, { maximum }) => sum + maximum, 0),
    notes,
    cpuTime: run.cpuTime,
    duration: run.duration,
  };
}

function notesOf(
  each: StudentRun,
  runs: readonly StudentRun[],
  key: HandoutKey,
): string[] {
  const others = runs.filter(({ student }) => student !== each.student);
  return [
    ...captureNotes(each, key),
    ...others.flatMap((other) => answerNotes(each, other)),
    ...others.flatMap((other) => textNotes(each, other, key)),
    ...nameNotes(each.run, key),
  ];
}

/** Captures that are another student's, or nobody's. */
function captureNotes({ student, run }: StudentRun, key: HandoutKey): string[] {
  return Object.entries(student.captures).flatMap(([file, hash]) => {
    const found = Object.hasOwn(run.captures, file)
      ? run.captures[file]
      : undefined;
    if (found === undefined || found === hash) return [];
    const owners = key.students.filter(({ captures }) =>
      Object.values(captures).includes(found)
    );
    return [
      owners.length === 0
        ? `'${file}' is not the capture handed out`
        : owners.length === 1
        ? `'${file}' is the capture of ${owners[0]!.student}`
        : `'${file}' is the capture of others, such as ${owners[0]!.student}`,
    ];
  });
}

/** Numbers that are the same to the last digit, though the truths differ. */
function answerNotes(own: StudentRun, other: StudentRun): string[] {
  const same = Object.entries(own.run.answers).filter(([name, { value }]) => {
    if (!Object.hasOwn(other.run.answers, name)) return false;
    // Of the same capture, good work gets the same number
    if (own.student.truth[name] === other.student.truth[name]) return false;
    const digits = String(value).replace(/e.*$|[-.]|^[-0.]+/g, "").length;
    return digits >= 4 && other.run.answers[name]!.value === value;
  });
  return same.length === 0 ? [] : [
    `the same answer as ${other.student.student}: ${
      same.map(([name]) => name).join(", ")
    }`,
  ];
}

/** Code that was not handed out and stands in both. */
function textNotes(
  own: StudentRun,
  other: StudentRun,
  key: HandoutKey,
): string[] {
  const handedOut = new Set(key.cells);
  const mine = own.run.cells.filter((hash) => !handedOut.has(hash));
  const shared = mine.filter((hash) => other.run.cells.includes(hash));
  return mine.length === 0 || shared.length < sameText * mine.length ? [] : [
    `${shared.length} of ${mine.length} own cells have the same text as those of ${other.student.student}`,
  ];
}

/** Answers to questions that there are not. */
function nameNotes({ answers }: HandInRun, key: HandoutKey): string[] {
  const names = key.questions.map(({ name }) => name);
  return Object.keys(answers).filter((name) => !names.includes(name))
    .slice(0, 5).map((name) => {
      const near = nearestName(name, names);
      return `an answer to '${name.slice(0, 40)}', which is no question${
        near === null ? "" : `: '${near}' was meant?`
      }`;
    });
}
