/**
 * Handouts for a class and the marking of what comes back. Each student has own
 * captures, simulated from a seed; the truth stays with the teacher.
 *
 * @module
 */
export { studentNotebook, teacherNotebook } from "./student_notebook.ts";
export {
  type Handout,
  makeHandout,
  type MakeHandoutOptions,
} from "./make_handout.ts";
export {
  captureKey,
  type HandoutKey,
  newClassSeed,
  readKey,
  type StudentKey,
} from "./handout_key.ts";
export {
  defaultLimits,
  type HandInLimits,
  type HandInRun,
  recordedAnswers,
} from "./hand_in/mod.ts";
export { type Question, questionsOf } from "./question.ts";
export {
  type AnswerMark,
  type GivenAnswer,
  markAnswer,
  pointsPerAnswer,
} from "./mark_answer.ts";
export {
  type HandInMark,
  markFolder,
  type MarkFolderOptions,
} from "./mark_folder.ts";
export { classOverview, marksTable } from "./overview.ts";
