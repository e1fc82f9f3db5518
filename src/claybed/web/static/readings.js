'use strict';
// Shows the profile while it is typed, and only the sizes that the chosen shape has.
(() => {
  const text = document.getElementById('readings'), drawn = document.getElementById('profile');
  function draw() {
    const rows = text.value.split('\n').map((line) => line.split(/[,;\t]/).map((part) => Number(part.trim().replace(',', '.')))).filter((row) => row.length > 1 && row.every(Number.isFinite));
    drawn.replaceChildren();
    if (rows.length < 2) return;
    rows.sort((a, b) => a[0] - b[0]);
    const high = Math.max(...rows.map((row) => row[0])), wide = Math.max(...rows.map((row) => row[1])), scale = Math.min(180 / wide, 150 / (high - rows[0][0] || 1));
    const point = (side) => (row) => `${100 + side * row[1] / 2 * scale},${155 - (row[0] - rows[0][0]) * scale}`;
    const line = document.createElementNS('http://www.w3.org/2000/svg', 'polygon');
    line.setAttribute('points', [...rows.map(point(1)), ...rows.map(point(-1)).reverse()].join(' '));
    drawn.append(line);
  }
  text.addEventListener('input', draw);
  draw();
  const kind = document.getElementById('kind');
  function ask() {
    const wanted = kind.selectedOptions[0].dataset.sizes.split(' ');
    for (const field of document.querySelectorAll('[data-size]')) {
      field.hidden = !wanted.includes(field.dataset.size);
      field.querySelector('input').required = !field.hidden;
    }
  }
  kind.addEventListener('change', ask);
  ask();
  // The fields that go with what was chosen: data-section="…" with #section, data-how="…" with #how.
  for (const name of ['section', 'how']) {
    const choice = document.getElementById(name);
    const show = () => { for (const field of document.querySelectorAll(`[data-${name}]`)) field.hidden = field.dataset[name] !== choice.value; };
    choice.addEventListener('change', show);
    show();
  }
})();
