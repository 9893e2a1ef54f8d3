// Temperature around the parked car: Newton's law of cooling towards the night,
// with a slow swing; its integral in closed form.
import type { ClimateSpec } from './spec.ts';

export class Climate {
  constructor(private readonly spec: ClimateSpec) {}

  temperature_C(t_s: number): number {
    const { start_C, end_C, tau_s, swing_C, swingPeriod_s } = this.spec;
    return end_C + (start_C - end_C) * Math.exp(-t_s / tau_s) + swing_C * Math.sin((2 * Math.PI * t_s) / swingPeriod_s);
  }

  /** Integral of the temperature from 0 to `t_s`. */
  integral_Cs(t_s: number): number {
    const { start_C, end_C, tau_s, swing_C, swingPeriod_s } = this.spec;
    const turn = (2 * Math.PI) / swingPeriod_s;
    return (
      end_C * t_s - (start_C - end_C) * tau_s * Math.expm1(-t_s / tau_s) + (swing_C * (1 - Math.cos(turn * t_s))) / turn
    );
  }
}
