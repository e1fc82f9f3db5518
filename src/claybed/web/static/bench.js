'use strict';
// Light or dark bench as this device last chose, before the first paint; times as the reader's clock shows them.
// Inches as a rule shows them: sixteenths, thirty-seconds under half an inch.
const ClaybedRule = { inches: (mm) => {
  let marks = mm < 12.7 ? 32 : 16, rest = Math.round(mm / 25.4 * marks);
  const whole = Math.floor(rest / marks);
  for (rest %= marks; rest && rest % 2 === 0;) [rest, marks] = [rest / 2, marks / 2];
  return `${[whole || '', rest ? `${rest}/${marks}` : ''].join(' ').trim() || 0} in`;
} };
(() => {
  const root = document.documentElement;
  const kept = () => { try { return localStorage.getItem('claybed-bench'); } catch { return null; } };
  const chosen = kept();
  if (chosen) root.dataset.bench = chosen;
  const dark = () => root.dataset.bench ? root.dataset.bench === 'dark' : matchMedia('(prefers-color-scheme: dark)').matches;

  function tellTimes(within) {
    for (const time of within.querySelectorAll('time[datetime]')) {
      const at = new Date(time.dateTime);
      if (!Number.isNaN(at.getTime())) time.textContent = at.toLocaleString(undefined, 'day' in time.dataset ? { weekday: time.closest('small') ? undefined : 'short', day: 'numeric', month: 'short' } : { dateStyle: 'medium', timeStyle: 'short' });
    }
  }

  // What long work is at, said to those who hear the page: each sentence once, however often it is asked for.
  function say() {
    const place = document.getElementById('said'), found = document.querySelector('[data-said]');
    if (place && found && place.textContent !== found.dataset.said) place.textContent = found.dataset.said;
  }

  document.addEventListener('DOMContentLoaded', () => {
    tellTimes(document);
    say();
    const button = document.getElementById('bench');
    if (!button) return;
    const name = () => { button.textContent = dark() ? 'Light bench' : 'Dark bench'; };
    name();
    button.addEventListener('click', () => {
      root.dataset.bench = dark() ? 'light' : 'dark';
      try { localStorage.setItem('claybed-bench', root.dataset.bench); } catch { /* it lasts for this page then */ }
      name();
    });
  });
  document.addEventListener('htmx:afterSwap', (event) => { tellTimes(event.target); say(); });
})();
