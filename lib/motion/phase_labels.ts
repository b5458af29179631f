/** A piece of the signal on which φF lies within half a turn. */
export interface LabelledPiece {
  /** First sample. */
  readonly first: number;
  /** Last sample. */
  readonly last: number;
  /** φF = origin + sign · arccos(y), in rad; a whole number of turns. */
  readonly origin: number;
  /** 1 or -1. */
  readonly sign: number;
}

/** A jump of φF from one branch to the next. */
export interface Jump {
  /** First sample of the edge, left out of fits if before `last`. */
  readonly first: number;
  /** Sample after the edge; the jump lies between `first` and `last`. */
  readonly last: number;
  /** 1 where φ0 rises (receding target), -1 where it falls. */
  readonly sign: number;
}

/** First guess of φF, piece by piece, and the jumps between branches. */
export interface PhaseLabels {
  /** Pieces in order of time; samples between pieces are left out. */
  readonly pieces: readonly LabelledPiece[];
  /** Jumps in order of time; used where C > 1. */
  readonly jumps: readonly Jump[];
  /**
   * Levels between which a label is trusted (1): beyond them the phase may have
   * gone past an extreme and come back.
   */
  readonly trusted: { readonly low: number; readonly high: number };
  /** Whether C may be above 1. */
  readonly mayFold: boolean;
  /** Branch before the first jump. */
  readonly firstBranch: number;
}
