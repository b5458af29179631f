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
export { writeHandoutData } from "./handout_folder.ts";
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
export { emptyHandTable, type PointsByHand, readHandTable } from "./by_hand.ts";
export {
  type HandoutCapture,
  type MakeCaptures,
  simulatedCaptures,
} from "./handout_captures.ts";
export { benchFile, readOwnBench } from "./own_bench.ts";
export * from "./questions/mod.ts";
export {
  type AnswerMark,
  type Expected,
  type GivenAnswer,
  markAnswer,
} from "./mark_answer.ts";
export {
  gradeClass,
  type HandInMark,
  type HandMark,
  type StudentRun,
} from "./grade_class.ts";
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
export {
  type Course,
  openCourse,
  questionsFile,
  writeDemonstration,
} from "./course_folder.ts";
