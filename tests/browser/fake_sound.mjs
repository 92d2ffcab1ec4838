// A sound that is a list, on a clock that is a number: what a player schedules, and takes back.

export class FakeSound {
  constructor() {
    this.time = 0;
    this.pressed = [];
    this.breaths = [];
    this.faults = [];
  }

  now() {
    return this.time;
  }

  press(role, key, velocity, start) {
    const voice = { role, key, start, stop: null, velocity };
    this.pressed.push(voice);
    const fault = (what) => this.faults.push(`${what}: ${JSON.stringify(voice)} at ${this.time}`);
    return {
      letGo: (at) => {
        if (at < this.time) fault("let go in the past");
        voice.stop = at;
      },
      hold: () => {
        if (voice.stop === null || voice.stop <= this.time) fault("held on too late");
        voice.stop = null;
      },
      cancel: () => {
        if (start <= this.time) fault("taken back too late");
        this.pressed.splice(this.pressed.indexOf(voice), 1);
      },
    };
  }

  breathe(at) {
    const breath = { at };
    this.breaths.push(breath);
    return { cancel: () => this.breaths.splice(this.breaths.indexOf(breath), 1) };
  }

  place() {}
}
