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
export { type Answer, type AnswerCheck, checkAnswer } from "./check_answer.ts";
export {
  diagnoseMistake,
  type DiagnoseMistakeOptions,
  type Mistake,
} from "./mistake.ts";
export { check } from "./check.ts";
export {
  type Exercise,
  exerciseNames,
  findExercise,
  type TypicalMistake,
} from "./exercises/mod.ts";
export {
  type AskedQuestion,
  askQuestions,
  type Recorded,
} from "./answer_book.ts";
export { answersSoFar, recordAnswer, type RecordedAnswer } from "./answer.ts";
export { recordChoice, type RecordedChoice } from "./choice.ts";
export {
  type HandedOut,
  type HandedOutEntry,
  openHandout,
} from "./open_handout.ts";
