/**
 * Teaching: comparison with the known truth of the simulated bench, exercises
 * that check an answer and hint at the mistake, handouts and marking.
 *
 * @module
 */
export {
  compareWithTruth,
  type CompareWithTruthOptions,
  type TruthComparison,
} from "./comparison.ts";
export {
  type Answer,
  type AnswerCheck,
  checkAnswer,
  type Exercise,
} from "./check_answer.ts";
export { diagnoseMistake, type Mistake, type MistakeKind } from "./mistake.ts";
export { check } from "./check.ts";
export { exerciseNames, findExercise } from "./exercises.ts";
export { answersSoFar, recordAnswer, type RecordedAnswer } from "./answer.ts";
export type { DiagnoseMistakeOptions } from "./mistake.ts";
