import { describe, expect, it } from 'vitest';
import { procedure } from '../../machines/procedure/procedure.ts';
import type { DeviceId, PersonId, StepId } from '../../machines/wire/ids.ts';
import { guidedEntry, guidedOf, emergencyDoffingOf, type Me } from '../../client/observer/guided.ts';
import { Stretch } from '../../client/observer/interruption.ts';
import { tabletView, type TabletView } from '../../client/observer/tablet-view.ts';
import {
  atThreshold,
  enters,
  given,
  gown,
  inside,
  leaving,
  minute,
  onDuty,
  openedAt,
  opening,
  openedUnit,
  play,
  readied,
  reports,
  taken,
  verified,
  type Act,
  type World,
} from '../support/unit-fixture.ts';

const me: Me = { person: 'o1' as PersonId, device: 'tablet-o1' as DeviceId };
const other: Me = { person: 'o2' as PersonId, device: 'tablet-o2' as DeviceId };
const w1 = { worker: 'w1' };

/** A page of one observer: opened, and looking at the unit from then on. */
class Page {
  private readonly stretch = new Stretch();
  private answered: { before: readonly StepId[]; steps: StepId[] } = { before: [], steps: [] };
  readonly who: Me;
  constructor(who: Me = me) {
    this.who = who;
  }
  looks(world: World): TabletView {
    const before = this.stretch.before(guidedEntry(world.state, this.who.person));
    if (this.answered.before !== before) this.answered = { before, steps: [] };
    const moment = { now: world.now, openedAt: openedAt - minute, unsent: [], before, answered: this.answered.steps };
    return tabletView(world.state, this.who, moment);
  }
  answers(step: string): void {
    this.answered.steps.push(step as StepId);
  }
}

const asks = (view: TabletView): string => (view.at === 'recheck' ? `${view.step.id}?` : view.at);
const goes = (view: TabletView): string => (view.at === 'step' ? view.step.id : asks(view));

const start = [...onDuty('o1', 'o2'), ...readied('o1', 'w1')];
const twoDone = [...start, verified('o1', 'w1', 'rub-hands'), verified('o1', 'w1', 'gloves-on')];
const inLane = [...inside('o1', 'w1'), ...atThreshold('o1', 'w1'), enters('o1', 'w1', 'l1')];
const after = (world: World, ...acts: Act[]): World => play(world, acts);

describe('a page that is opened in the middle of the steps', () => {
  it('goes back to one step before the last confirmed one, and asks, one after the other', () => {
    const { world } = given(twoDone);
    const page = new Page();
    expect(asks(page.looks(world))).toBe('rub-hands?');
    page.answers('rub-hands');
    expect(asks(page.looks(world))).toBe('gloves-on?');
    page.answers('gloves-on');
    expect(goes(page.looks(world))).toBe('gown-on');
  });

  it('asks only about the last two, and about the one where there is only one', () => {
    const doffing = given(
      onDuty('o1'),
      inLane,
      ['clean-gloves', 'gown-off', 'gloves-off'].map((step) => verified('o1', 'w1', step)),
    );
    expect(asks(new Page().looks(doffing.world))).toBe('gown-off?');
    const one = given(start, verified('o1', 'w1', 'rub-hands'));
    expect(asks(new Page().looks(one.world))).toBe('rub-hands?');
  });

  it('asks nothing before the first step of a phase, or when no step is outstanding', () => {
    expect(goes(new Page().looks(given(start).world))).toBe('rub-hands');
    expect(goes(new Page().looks(given(onDuty('o1'), inLane).world))).toBe('clean-gloves');
    const through = given(onDuty('o1'), inside('o1', 'w1'), leaving('o1', 'w1'), verified('o1', 'w1', 'wipe-gloves'));
    expect(asks(new Page().looks(through.world))).toBe('through-door');
  });

  it('goes on asking when something else is noted about the worker meanwhile', () => {
    const page = new Page();
    const { world } = given(twoDone);
    page.looks(world);
    const noted = after(world, reports('o1', 'declare-breach', { ...w1, breachKind: 'glove-torn' }));
    expect(asks(page.looks(noted))).toBe('rub-hands?');
  });

  it('after “no” walks through what is to be done, and then asks about the next', () => {
    const page = new Page();
    const { world } = given(twoDone);
    page.looks(world);
    const no = reports('o1', 'note-deviation', { ...w1, step: 'rub-hands', deviationKind: 'missed', actor: 'worker' });
    const noted = after(world, no);
    page.answers('rub-hands');
    const view = page.looks(noted);
    expect(view).toMatchObject({ at: 'corrective', deviation: { kind: 'missed', step: 'rub-hands' } });
    if (view.at !== 'corrective') return;
    const righted = after(noted, reports('o1', 'correct-deviation', { ...w1, deviation: view.deviation.id }));
    expect(asks(page.looks(righted))).toBe('gloves-on?');
  });

  it('does not ask whether a step was seen that the safety officer has let count', () => {
    const { world } = given(
      onDuty('o1'),
      inLane,
      verified('o1', 'w1', 'clean-gloves'),
      reports('s1', 'override-step', { ...w1, step: 'gown-off', reason: 'cut off' }),
    );
    expect(asks(new Page().looks(world))).toBe('clean-gloves?');
  });
});

describe('a page that has seen it all', () => {
  it('asks nothing', () => {
    const page = new Page();
    const { world } = given(start);
    page.looks(world);
    const one = after(world, verified('o1', 'w1', 'rub-hands'));
    expect(goes(page.looks(one))).toBe('gloves-on');
    expect(goes(page.looks(after(one, verified('o1', 'w1', 'gloves-on'))))).toBe('gown-on');
  });
});

describe('another observer who takes over', () => {
  const { world } = given(twoDone);
  it('is asked, and so is the first one when they take the worker back', () => {
    const [first, second] = [new Page(), new Page(other)];
    first.looks(given(start).world);
    expect(goes(first.looks(world))).toBe('gown-on');
    expect(asks(second.looks(world))).toBe('free');
    const over = after(world, taken('o2', 'w1'));
    expect(asks(first.looks(over))).toBe('free');
    expect(asks(second.looks(over))).toBe('rub-hands?');
    const back = after(over, taken('o1', 'w1'));
    expect(asks(first.looks(back))).toBe('rub-hands?');
  });

  it('is asked anew after each interruption', () => {
    const page = new Page();
    page.looks(world);
    page.answers('rub-hands');
    page.answers('gloves-on');
    expect(goes(page.looks(world))).toBe('gown-on');
    const over = after(world, taken('o2', 'w1'));
    page.looks(over);
    expect(asks(page.looks(after(over, taken('o1', 'w1'))))).toBe('rub-hands?');
  });
});

describe('what is to be done about a deviation', () => {
  const torn = given(
    onDuty('o1'),
    inLane,
    reports('o1', 'note-deviation', { ...w1, step: 'clean-gloves', deviationKind: 'torn' }),
  );
  const now = (world: World) => {
    const view = new Page().looks(world);
    return view.at === 'corrective' ? view.now : view.at;
  };
  const does = (index: number) => (world: World) => {
    const [deviation] = world.state.workers['w1' as PersonId]!.machine.context.entry!.deviations;
    return reports('o1', 'verify-corrective', { ...w1, deviation: deviation!.id, index, tookSeconds: 30 })(world);
  };

  it('is shown one step at a time, and at the end somebody looks once more', () => {
    expect(now(torn.world)).toEqual({ is: 'step', step: { words: 'Stop.' }, index: 0, total: 3 });
    const second = after(torn.world, does(0));
    expect(now(second)).toMatchObject({ is: 'step', index: 1, step: { contactSeconds: 20 } });
    expect(now(after(second, does(1), does(2)))).toEqual({ is: 'walked' });
  });

  it('is one sentence where nobody has written steps', () => {
    const touched = reports('o1', 'note-deviation', { ...w1, step: 'clean-gloves', deviationKind: 'touched' });
    expect(now(given(onDuty('o1'), inLane, touched).world)).toEqual({ is: 'sentence' });
  });
});

describe('the list for helpers', () => {
  const list = {
    caution: 'Not proved.',
    source: 'invented for tests',
    steps: [{ words: 'Your own protection first.', by: 'observer' }],
  };
  const withList = procedure.parse({ ...gown, emergencyDoffing: list });
  const unit = openedUnit(opening((same) => ({ ...same, procedures: [withList, ...same.procedures.slice(1)] })));
  const listAt = (world: World) =>
    emergencyDoffingOf(guidedOf(world.state, 'w1' as PersonId, world.now)!)?.steps.length;
  const emergency = reports('o1', 'declare-emergency', w1);

  it('is offered once the exit is an emergency, in equipment, and where the procedure has one', () => {
    const lane = play(unit, [...onDuty('o1'), ...inLane]);
    expect(listAt(lane)).toBeUndefined();
    expect(listAt(after(lane, emergency))).toBe(1);
    expect(listAt(given(onDuty('o1'), inLane, emergency).world)).toBeUndefined();
    const doffing = gown.steps.filter((step) => step.phase === 'doffing').map((step) => verified('o1', 'w1', step.id));
    expect(listAt(after(lane, emergency, ...doffing))).toBeUndefined();
  });

  it('leaves every ordinary step outstanding', () => {
    const lane = after(play(unit, [...onDuty('o1'), ...inLane]), emergency);
    expect(lane.state.workers['w1' as PersonId]!.machine.context.entry!.outstanding.doffing).toHaveLength(4);
    expect(goes(new Page().looks(lane))).toBe('clean-gloves');
  });
});
