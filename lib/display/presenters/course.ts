import type {
  AnswerCheck,
  RecordedAnswer,
  RecordedChoice,
  TruthComparison,
} from "../../course/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { headline, row } from "./rows.ts";

registerPresenter<TruthComparison>("course.comparison", {
  report: ({ label, measured, truth, error, normalizedError, agrees }) => ({
    title: agrees
      ? `Result and truth agree: ${label}`
      : `Result and truth do not agree: ${label}`,
    headlines: [headline(`measured ${label}`, measured)],
    rows: [
      row("truth of the simulated bench", truth, measured.unit),
      row("measured − truth", error, measured.unit),
      row("|error| / U", normalizedError, "", "agreement: at most 1"),
    ],
    figures: [],
    method: "The error is compared with the expanded uncertainty U.",
  }),
});

registerPresenter<AnswerCheck>("course.check", {
  report: ({ exercise, right, message, mistake }) => ({
    title: right ? "Right" : "Not yet",
    headlines: [],
    rows: [
      row("exercise", exercise),
      row("says", message),
      ...(mistake === null ? [] : [row("looks like", mistake)]),
    ],
    figures: [],
    method: "",
  }),
});

registerPresenter<RecordedAnswer>("course.answer", {
  report: ({ question, answer }) => ({
    title: `Answer recorded: ${question}`,
    headlines: [headline(question, answer)],
    rows: [],
    figures: [],
    method: "Recorded for marking; the last answer to a question counts.",
  }),
});

registerPresenter<RecordedChoice>("course.choice", {
  report: ({ question, choice }) => ({
    title: `Choice recorded: ${question}`,
    headlines: [],
    rows: [row(question, choice)],
    figures: [],
    method: "Recorded for marking; the last answer to a question counts.",
  }),
});
