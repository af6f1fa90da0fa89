/** Plain types of the budget. Milliamps, milliseconds, milliamp-hours, volts, ohms, farads, degrees Celsius. */

/** A current for a time; a burst replaces the current while it lasts, the first at the phase's start. */
export interface LoadPhase {
  readonly name?: string | undefined
  /** 0 or more. */
  readonly milliamps: number
  /** Above 0. */
  readonly milliseconds: number
  readonly burst?:
    | { readonly milliamps: number; readonly milliseconds: number; readonly everyMilliseconds: number }
    | undefined
}

/** The cell as a circuit: a source, a series resistance and a polarisation (a resistance beside a capacitance). */
export interface CellCircuit {
  /** Volts after a long rest, 0 or more. */
  readonly restedVolts: number
  /** Above 0. */
  readonly seriesOhms: number
  /** 0 or more; 0 leaves polarisation out. */
  readonly polarisationOhms: number
  /** 0 or more; 0 makes the polarisation a plain resistance. */
  readonly polarisationFarads: number
}

/** A capacitor beside the module. */
export interface ReservoirCircuit {
  readonly farads: number
  /** Its own series resistance, 0 or more. */
  readonly ohms: number
  /** Volts on it when the load starts. */
  readonly volts: number
  /** A resistor beside capacitor and module that empties it; 0 or absent: none. */
  readonly bleedOhms?: number | undefined
}

/** What the module saw during one opening. */
export interface OpeningResult {
  /** Least volts at the module; negative when the cell cannot deliver the load. */
  readonly minimumVolts: number
  /** From the start of the load. */
  readonly minimumAtMilliseconds: number
  readonly endVolts: number
  /** Charge that the cell delivered, recharging the reservoir included. */
  readonly chargeMillicoulombs: number
}

export const STATUSES = ['published', 'common practice', 'assumption'] as const
export type Status = (typeof STATUSES)[number]

/** A number with where it comes from. */
export interface Figure {
  readonly name: string
  readonly value: number
  readonly unit: string
  readonly status: Status
  readonly source: string
}

/** A built-in load. */
export interface LoadModel {
  readonly name: string
  readonly phases: readonly LoadPhase[]
  readonly figures: readonly Figure[]
  /** What it leaves out, for the person. */
  readonly note: string
}

/** A built-in cell, or one of your own. */
export interface CellModel {
  readonly name: string
  /** Rested volts of a new cell. */
  readonly newVolts: Figure
  /** Effective resistance when new, at 21 C. */
  readonly seriesOhms: Figure
  readonly polarisationOhms?: number
  readonly polarisationFarads?: number
  readonly capacityMilliampHours: Figure
  /** Part of the capacity lost in a year on the shelf, 0 to 1. */
  readonly selfDischargePerYear: Figure
  /**
   * Rested volts lost for each mAh drawn hard; `withinFactor` is its 90 % range. Without it the table decides.
   * `knownVolts`: rested volts down to which the line is known; default 3.0 (common practice).
   */
  readonly ageing?: Figure & { readonly withinFactor: number; readonly knownVolts?: number }
  /** Rested volts against the part of the capacity that is gone (0 to 1), in order. */
  readonly voltsByDepth?: {
    readonly points: readonly (readonly [depth: number, volts: number])[]
    readonly source: Figure
  }
  /**
   * The count that fixed `seriesOhms`: so many sends of this load with this reset, while the rested volts fell so far
   * for each mAh. Under another load or reset the resistance is set so that the count stands.
   */
  readonly anchor?: {
    readonly sends: number
    readonly load: readonly LoadPhase[]
    readonly resetVolts: number
    readonly voltsPerMilliampHour: number
  }
  readonly note?: string
}

export const PLACES = ['before-reed', 'after-reed'] as const
/** `before-reed`: always on the cell; starts full, leaks for years. `after-reed`: starts at 0 V at each opening. */
export type ReservoirPlace = (typeof PLACES)[number]

/** A capacitor that helps the cell, and where it sits. */
export interface Reservoir {
  readonly farads: number
  readonly place: ReservoirPlace
  /** Series resistance; default 0.5 (assumption). */
  readonly ohms?: number | undefined
  /** Leak of the part; default 5 (assumption). */
  readonly leakMicroamps?: number | undefined
  /** After the reed: the module starts when its volts first reach this; default 2.6 (assumption). */
  readonly startVolts?: number | undefined
  /** A resistor across it. After the reed it empties it when the window is shut; before the reed it flows all the year. */
  readonly bleedOhms?: number | undefined
}

/** Degrees at the contact, in the middle of January and of July, each -30 to 60; a cosine of the year between them. */
export interface SeasonCelsius {
  readonly january: number
  readonly july: number
}

/** All that the budget of one kind of contact needs. Every field has a default. */
export interface BudgetSender {
  /** Built-in name or a model of your own; default `CR2032`. */
  readonly cell?: string | CellModel | undefined
  /** Built-in name or phases; default `cold-join`. */
  readonly load?: string | readonly LoadPhase[] | undefined
  /** The module resets below this at its supply pin; default 2.3 (assumption). */
  readonly resetVolts?: number | undefined
  /** Minutes that one opening stays open; default 60 (assumption). */
  readonly openMinutes?: number | undefined
  /** Default 120 (assumption); 0 leaves the calendar out. */
  readonly openingsPerYear?: number | undefined
  /** Lamp that is on while the window is open; default 0. */
  readonly lampMilliamps?: number | undefined
  /** Asleep while open; default 5 (the chip alone). */
  readonly sleepMicroamps?: number | undefined
  /** -30 to 60; default 21. */
  readonly temperatureCelsius?: number | undefined
  /** In its place where the contact is colder at one time of the year than at another. */
  readonly seasonCelsius?: SeasonCelsius | undefined
  /** ISO 8601: when the cell is fitted; counts with `seasonCelsius` only. Default: the middle of its coldest month. */
  readonly fittedAt?: string | undefined
  /** Years that the cell was fitted before its first opening; default 0. */
  readonly idleYears?: number | undefined
  /** Sends that one opening costs; default 1. 2: it also reports closing from its cell, on which it sleeps all year. */
  readonly sendsPerOpening?: number | undefined
  readonly reservoir?: Reservoir | undefined
}

/** What a count of openings can tell of a cell, the other being taken as known. */
export const SOLVES = ['ageing', 'resistance'] as const
export type Solve = (typeof SOLVES)[number]

export const ENDS = ['volts', 'capacity', 'never-starts'] as const
export type EndedBy = (typeof ENDS)[number]

/** A median with its 90 % range. */
export interface Range {
  readonly p05: number
  readonly p50: number
  readonly p95: number
}

/** Openings that the model would give with one figure at its two limits. */
export interface Sensitivity {
  readonly name: string
  /** In words: `5 %`, `0.05 V`, `a factor of 3`. */
  readonly limits: string
  readonly worse: number
  readonly better: number
}

/** Current through the reed as it closes. */
export interface Inrush {
  /** Volts of a new cell over the series resistances: a simulated peak is lower. */
  readonly amps: number
  /** Where `amps` is above what the reed is taken to carry: what tames it, and the openings that it leaves (median). */
  readonly resistor?: {
    readonly ohms: number
    readonly place: 'with-reservoir' | 'with-reed'
    readonly openings: number
  }
}

/** What a new cell gives one kind of contact, and why. */
export interface EventBudget {
  /**
   * `p50` is the model's middle, `p05` and `p95` hold nine of ten single new cells. Real numbers, 0 or more: floor them
   * only for show (`wholeOpenings`).
   */
  readonly openings: Range
  /**
   * True when the model would leave the known rested volts of its cell: then `openings.p05` and `p50` are lower bounds,
   * and `p95` is Infinity.
   */
  readonly atLeast: boolean
  /** Whether a count is known for this cell and load; where none is, the range is wider. */
  readonly countKnown: boolean
  /** With `seasonCelsius`: openings (p50) at the temperature of each month all the year, January first. */
  readonly byMonth?: readonly number[]
  readonly endedBy: EndedBy
  /** Charge drawn hard (awake) until the end. */
  readonly hardMilliampHours: number
  /** All charge until the end, where it goes. */
  readonly parts: readonly { readonly name: string; readonly milliampHours: number }[]
  readonly sensitivity: readonly Sensitivity[]
  /** Volts under load of a new cell and at the end. */
  readonly volts: {
    readonly reset: number
    readonly newMinimum: number
    readonly endMinimum: number
    readonly endRested: number
  }
  /** Its bursts could not start by the model, which is wrong there: counted with the mean current instead. */
  readonly burstsRefuted?: true
  /**
   * Hours that one window may stay open before what flows then (asleep, lamp, leak, bleed) empties the cell, idle years
   * counted. With a bleed before the reed it flows when the window is shut too.
   */
  readonly openHoursToEmpty: number
  /** After the reed: seconds that a closed window's module stays asleep on the reservoir; a reopening then is not sent. */
  readonly holdUpSeconds?: number
  readonly inrush: Inrush
  readonly warnings: readonly string[]
  readonly restsOn: readonly Figure[]
  /** How the range was made. */
  readonly method: string
}
