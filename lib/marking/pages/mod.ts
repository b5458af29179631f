/**
 * What a teacher and a student see of the marks.
 *
 * @module
 */
export { classOverview, type ClassOverviewOptions } from "./class_overview.ts";
export { marksTable } from "./marks_table.ts";
export { studentPage } from "./student_page.ts";
export { writeMarks } from "./write_marks.ts";
