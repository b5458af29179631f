/**
 * The presenters of all kinds of result. Importing this registers them.
 *
 * @module
 */
import "./batch_runs.ts";
import "./batch_summary.ts";
import "./bench_cautions.ts";
import "./bench_diode.ts";
import "./bench_front_end.ts";
import "./bench_laser_safety.ts";
import "./bench_link.ts";
import "./bench_plan.ts";
import "./capture.ts";
import "./capture_check.ts";
import "./capture_sniff.ts";
import "./capture_stream_check.ts";
import "./course.ts";
import "./explore_recognition.ts";
import "./fit.ts";
import "./level_calibration.ts";
import "./level_presence.ts";
import "./motion_conditioning.ts";
import "./motion_displacement.ts";
import "./motion_feedback.ts";
import "./motion_fringes.ts";
import "./motion_long_motion.ts";
import "./motion_pitfalls.ts";
import "./motion_ring_down.ts";
import "./motion_spectrum.ts";
import "./motion_vibration.ts";
import "./range_distance.ts";
import "./range_ramps.ts";
import "./range_roll_off.ts";
import "./range_steps.ts";
import "./range_targets.ts";
import "./range_tuning.ts";
import "./range_tuning_temperature.ts";
import "./record.ts";
import "./record_stability.ts";
import "./signal_spectrum.ts";
import "./speed_background.ts";
import "./speed_calibration.ts";
import "./speed_doppler.ts";
import "./speed_plan.ts";
import "./speed_tachometer.ts";
import "./speed_track.ts";
import "./uncertainty.ts";
