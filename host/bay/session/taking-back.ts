// "That was wrong": the last thing that was tapped or entered is taken back, whether it is
// still being measured, a step of refitting, or a result already.

import { FIRST_LOOK_s, PATIENCE_s } from './session-core.ts';
import { testName } from '../search/planner.ts';
import { Settling } from './settling.ts';
import { called, isBehind } from '../tree/tree.ts';

export class TakingBack extends Settling {
  protected takeBack(): void {
    const { state } = this;
    const { phase, now_s } = state;
    switch (phase.name) {
      case 'measuring':
        this.note('wrong', `taken back: ${called(this.tree, phase.node)} is not out`);
        return this.level(phase.before_mA, PATIENCE_s);
      case 'refitting':
        state.bridge = 'off';
        this.note('wrong', 'taken back: the bridge is not on yet');
        return this.go({ name: 'bridge-on', node: phase.node, since_s: now_s });
      case 'bridge-off':
        this.note('wrong', `taken back: ${called(this.tree, phase.node)} is not in yet`);
        return this.go({ name: 'refitting', node: phase.node, since_s: now_s });
      case 'settling':
        state.bridge = 'on';
        this.note('wrong', 'taken back: the bridge is not off yet');
        return this.go({ name: 'bridge-off', node: phase.node, since_s: now_s });
      default:
        return this.takeBackResult();
    }
  }

  private takeBackResult(): void {
    const { state } = this;
    // Levels were measured, not done.
    const last = state.observations.filter(({ how }) => how !== 'total' && how !== 'level').at(-1);
    if (last === undefined) return this.note('wrong', 'there is nothing to take back');
    state.observations = state.observations.filter((one) => one !== last);
    state.repeat = null;
    state.named = state.named.filter((one) => !isBehind(this.tree, one.node, last.node));
    const name = testName(last.how, last.node);
    state.done[name] = Math.max(0, (state.done[name] ?? 0) - 1);
    this.note('wrong', `taken back: ${called(this.tree, last.node)}`);
    if (last.how === 'drop' && state.phase.name === 'proposing') return this.replan();
    state.out = state.out.filter((one) => one.node !== last.node);
    if (last.how === 'refit') state.out.push({ node: last.node, amount_mA: last.amount_mA });
    this.level(null, FIRST_LOOK_s);
  }
}
