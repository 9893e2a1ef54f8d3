// A night that was opened, capture or CSV, judged by what the workshop has set, what the file
// itself tells of car and battery, and what is told here and now: later ones over earlier.

import { fullScaleOf_mA } from '../analysis/meaning/full-scale.ts';
import { interpret, optionsFrom } from '../analysis/meaning/interpret.ts';
import type { NightMeaning } from '../analysis/meaning/interpret.ts';
import { layered, toldInCapture } from '../contract/settings.ts';
import type { Told } from '../contract/settings.ts';
import { openTrace } from './open.ts';
import type { OpenedTrace } from './open.ts';

export interface Settings {
  /** Of the workshop's file. */
  workshop: Told;
  /** Here and now: by options, or by the page. */
  asked: Told;
}

/** @throws RangeError in one sentence where the settings make no sense together */
export function judge(
  { trace, voltage, info, statuses }: Pick<OpenedTrace, 'trace' | 'voltage' | 'info' | 'statuses'>,
  { workshop, asked }: Settings,
): NightMeaning {
  const options = optionsFrom(layered(workshop, info === null ? {} : toldInCapture(info), asked));
  return interpret(
    { trace, voltage, fullScale_mA: info === null ? null : fullScaleOf_mA(info.runs), statuses },
    options,
  );
}

export interface JudgedNight {
  opened: OpenedTrace;
  night: NightMeaning;
}

/**
 * @param original whether later calibrations are left out
 * @param singles whether 32 bits will do for the currents
 * @throws Error in one sentence where the file cannot be read
 */
export async function judgedNight(
  path: string,
  settings: Settings,
  { original = false, singles = true } = {},
): Promise<JudgedNight> {
  const opened = await openTrace(path, { original, singles });
  return { opened, night: judge(opened, settings) };
}
