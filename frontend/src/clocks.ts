// Deadlines tick here, once a second, from the server's moment; the server says nothing while time merely passes.

import { say } from "./say";

const ALARM_LIMITS_S = [300, 60, 0]; // judgement: five minutes to finish a die, one to begin the mix, none

interface Skew {
  skewMs: number;
}

function skew(): Skew {
  const said = document.documentElement.dataset["now"] ?? document.querySelector<HTMLElement>("[data-now]")?.dataset["now"];
  return { skewMs: said ? Date.parse(said) - Date.now() : 0 };
}

export function format(seconds: number): string {
  const whole = Math.floor(Math.abs(seconds));
  const hours = Math.floor(whole / 3600);
  const minutes = Math.floor((whole % 3600) / 60);
  const rest = String(whole % 60).padStart(2, "0");
  if (hours >= 2) return `${hours} h ${String(minutes).padStart(2, "0")}`;
  return `${hours * 60 + minutes}:${rest}`;
}

export function startClocks(): void {
  let { skewMs } = skew();
  const before = new WeakMap<Element, number>();
  const tick = (): void => {
    const now = Date.now() + skewMs;
    for (const clock of document.querySelectorAll<HTMLElement>("[data-until], [data-since]")) {
      const until = clock.dataset["until"];
      const since = clock.dataset["since"];
      const left = until ? (Date.parse(until) - now) / 1000 : (now - Date.parse(since ?? "")) / 1000;
      if (Number.isNaN(left)) continue;
      const shown = until && left < 0 ? `${format(left)} ${say("over")}` : format(left);
      if (clock.textContent !== shown) clock.textContent = shown;
      if (!until) continue;
      clock.classList.toggle("over", left < 0);
      clock.classList.toggle("close", left >= 0 && left < (ALARM_LIMITS_S[0] ?? 0));
      const was = before.get(clock) ?? left;
      before.set(clock, left);
      if (clock.dataset["alarm"] !== undefined && ALARM_LIMITS_S.some((limit) => was > limit && left <= limit)) {
        alarm(clock);
      }
    }
  };
  document.addEventListener("htmx:afterSwap", () => {
    ({ skewMs } = skew());
    tick();
  });
  tick();
  setInterval(tick, 1000);
}

let sound: AudioContext | undefined;

// Sound starts only after a touch, as browsers ask; the flash and the words come without it.
for (const touch of ["pointerdown", "keydown"]) {
  document.addEventListener(touch, () => (sound ??= new AudioContext()), { once: true });
}

document.addEventListener("click", (event) => {
  const tried = document.getElementById("tried");
  if (tried && (event.target as Element).id === "try-alarm") alarm(tried);
});

function alarm(clock: HTMLElement): void {
  const card = clock.closest<HTMLElement>("[data-card]") ?? clock;
  if (document.documentElement.dataset["flash"] !== "off") {
    card.classList.add("alarm");
    setTimeout(() => card.classList.remove("alarm"), 6000);
  }
  const said = document.getElementById("told");
  if (said) said.textContent = `${clock.dataset["alarm"]}: ${clock.textContent}`;
  if (!sound || document.documentElement.dataset["sound"] === "off") return;
  for (let beep = 0; beep < 3; beep++) {
    const tone = sound.createOscillator();
    const volume = sound.createGain();
    tone.frequency.value = 880;
    volume.gain.value = 0.15;
    tone.connect(volume).connect(sound.destination);
    tone.start(sound.currentTime + beep * 0.4);
    tone.stop(sound.currentTime + beep * 0.4 + 0.2);
  }
}
