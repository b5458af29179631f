/**
 * The presenters of all kinds of result. Importing this registers them.
 *
 * @module
 */
import "./capture.ts";
import "./bench_front_end.ts";
import "./bench_laser_safety.ts";
import "./capture_capture.ts";
import "./capture_check.ts";
import "./course.ts";
import "./explore_recognition.ts";
import "./fit.ts";
import "./motion_fringes.ts";
import "./range_distance.ts";
import "./range_ramps.ts";
import "./range_steps.ts";
import "./range_tuning.ts";
import "./signal_spectrum.ts";
