/**
 * Questions of an assignment in plain data: how they are read, what is right for
 * whom, and how they stand in the notebook.
 *
 * @module
 */
export { allowanceOf, amountOf } from "./allowance.ts";
export {
  type CaptureValues,
  type RightAnswer,
  rightAnswer,
} from "./bench_values.ts";
export { evaluateFormula, type FormulaNames } from "./formula.ts";
export {
  completeQuestion,
  maximumOf,
  type Question,
  type QuestionMistake,
  type QuestionPoints,
} from "./question.ts";
export {
  type AskedFor,
  fillQuestions,
  pointsText,
  questionText,
  rightText,
  rubricText,
  untaggedQuestions,
} from "./question_text.ts";
export {
  type Criterion,
  parseQuestions,
  type QuestionsFile,
  readFields,
  readQuestions,
} from "./read_questions.ts";
export { refuseUnknownFields } from "./refuse_fields.ts";
