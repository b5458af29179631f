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
  deriveCaptureKey,
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
export {
  maximumOf,
  type Question,
  type QuestionMistake,
  type QuestionPoints,
  questionsOf,
} from "./question.ts";
export {
  type AnswerMark,
  type GivenAnswer,
  markAnswer,
} from "./mark_answer.ts";
export { gradeClass, type HandInMark, type StudentRun } from "./grade_class.ts";
export {
  type ClassMarks,
  markFolder,
  type MarkFolderOptions,
} from "./mark_folder.ts";
export {
  classOverview,
  marksTable,
  studentPage,
  writeMarks,
} from "./pages/mod.ts";
