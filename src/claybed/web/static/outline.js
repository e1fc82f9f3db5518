'use strict';
// The outline of an object over its photo, dragged by pointer, touch or keys. The line keeps all its points; a
// handle stands on every few of them, and a drag takes the points around it along, less the further off.
(() => {
  const NS = 'http://www.w3.org/2000/svg', HANDLES = 40, LOUPE = 4;
  const anew = document.getElementById('anew'), keep = document.getElementById('keep'), form = document.getElementById('measure');
  const stages = [];

  function parsed(text) {
    return text.split('\n').map((line) => line.split(',').map(Number)).filter((pair) => pair.length === 2 && pair.every(Number.isFinite));
  }
  const written = (points) => 'x_px,y_px\n' + points.map(([x, y]) => `${x.toFixed(1)},${y.toFixed(1)}`).join('\n');

  function changed() {
    const any = stages.some((stage) => stage.differs());
    if (anew) { anew.disabled = !any; anew.classList.toggle('act', any); }
    if (keep) { keep.disabled = any; keep.classList.toggle('act', !any); keep.textContent = any ? 'Measure first, then keep it' : 'Keep the object'; }
  }

  function begin(root) {
    const svg = root.querySelector('.drawn'), loupe = root.querySelector('.loupe'), told = root.querySelector('.told'), reach = root.querySelector('.reach');
    const group = root.querySelector('.points'), lines = root.querySelectorAll('polygon');
    const field = form && form.elements[root.dataset.line];
    const found = JSON.parse(root.dataset.found), given = field ? parsed(field.value) : [];
    const whole = svg.getAttribute('viewBox'), [, , wide, high] = whole.split(' ').map(Number);
    let points = (given.length >= 8 ? given : found).map((pair) => pair.slice());
    const measured = written(points), asked = field ? field.value : '';
    const undo = [];
    let chosen = 0, held = null;
    const every = Math.max(1, points.length / HANDLES), count = Math.round(points.length / every);
    const at = (k) => Math.round(((k % count + count) % count) * every) % points.length;
    const dots = Array.from({ length: count }, () => group.appendChild(document.createElementNS(NS, 'circle')));

    const perPixel = () => 1 / (svg.getScreenCTM()?.a || 1);
    function draw() {
      const text = points.map((pair) => pair.join(',')).join(' ');
      for (const line of lines) line.setAttribute('points', text);
      const radius = 4 * perPixel();
      dots.forEach((dot, k) => {
        const [x, y] = points[at(k)];
        dot.setAttribute('cx', x);
        dot.setAttribute('cy', y);
        dot.setAttribute('r', k === chosen ? radius * 2.2 : radius);
        dot.classList.toggle('chosen', k === chosen);
      });
      const [x, y] = points[at(chosen)], half = loupe.clientWidth / 2 * perPixel() / LOUPE || 20;
      loupe.setAttribute('viewBox', `${x - half} ${y - half} ${2 * half} ${2 * half}`);
      loupe.querySelector('.hair').setAttribute('d', `M${x - half / 4} ${y}H${x + half / 4}M${x} ${y - half / 4}V${y + half / 4}`);
      root.querySelector('[data-do=undo]').disabled = !undo.length;
      root.querySelector('[data-do=reset]').disabled = written(points) === measured;
    }
    function tell() {
      const [x, y] = points[at(chosen)];
      told.textContent = `Point ${chosen + 1} of ${count}, ${Math.round(x)} across and ${Math.round(y)} down`;
    }
    const inside = ([x, y]) => [Math.min(wide - 1, Math.max(0, x)), Math.min(high - 1, Math.max(0, y))];

    // Moves the chosen handle by (dx, dy) from `base`, and what lies within reach along the line with it.
    function move(base, dx, dy) {
      const centre = at(chosen), span = Math.max(1, Math.round(every * (Number(reach.value) + 1)));
      points = base.map((pair) => pair.slice());
      for (let step = -span + 1; step < span; step++) {
        const k = ((centre + step) % points.length + points.length) % points.length;
        const share = (1 + Math.cos(Math.PI * step / span)) / 2;
        points[k] = inside([base[k][0] + dx * share, base[k][1] + dy * share]);
      }
      draw();
    }
    function keepOld() {
      undo.push(points.map((pair) => pair.slice()));
      if (undo.length > 60) undo.shift();
    }
    function nudge(dx, dy) {
      keepOld();
      move(points, dx, dy);
      tell();
      note();
    }
    function note() {
      if (field) field.value = written(points) === measured ? asked : written(points);
      changed();
    }
    function choose(k) {
      chosen = (k % count + count) % count;
      draw();
      tell();
    }
    function place(event) {
      const spot = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
      return [spot.x, spot.y];
    }
    function nearest([x, y]) {
      let best = 0, least = Infinity;
      for (let k = 0; k < count; k++) {
        const [px, py] = points[at(k)], far = (px - x) ** 2 + (py - y) ** 2;
        if (far < least) [best, least] = [k, far];
      }
      return [best, Math.sqrt(least)];
    }

    svg.addEventListener('pointerdown', (event) => {
      const start = place(event), [k, far] = nearest(start);
      if (far > 34 * perPixel() || event.button > 0) return;
      event.preventDefault();
      svg.focus({ preventScroll: true });
      svg.setPointerCapture(event.pointerId);
      choose(k);
      held = { start, base: points.map((pair) => pair.slice()), moved: false };
    });
    svg.addEventListener('pointermove', (event) => {
      if (!held) return;
      const [x, y] = place(event);
      if (!held.moved) { keepOld(); held.moved = true; }
      move(held.base, x - held.start[0], y - held.start[1]);
    });
    function letGo() {
      if (!held) return;
      if (held.moved) note();
      held = null;
      tell();
      draw();
    }
    svg.addEventListener('pointerup', letGo);
    svg.addEventListener('pointercancel', letGo);
    // A finger on the line drags it; anywhere else it scrolls the page.
    svg.addEventListener('touchstart', (event) => {
      if (event.touches.length === 1 && nearest(place(event.touches[0]))[1] <= 34 * perPixel()) event.preventDefault();
    }, { passive: false });

    const STEPS = { left: [-1, 0], right: [1, 0], up: [0, -1], down: [0, 1] };
    const KEYS = { ArrowLeft: 'left', ArrowRight: 'right', ArrowUp: 'up', ArrowDown: 'down' };
    svg.addEventListener('keydown', (event) => {
      const far = (event.shiftKey ? 10 : 1) * Math.max(1, perPixel());
      if (KEYS[event.key]) { const [x, y] = STEPS[KEYS[event.key]]; nudge(x * far, y * far); }
      else if (event.key === 'PageDown') choose(chosen + 1);
      else if (event.key === 'PageUp') choose(chosen - 1);
      else if (event.key === 'z' && (event.ctrlKey || event.metaKey)) act('undo');
      else return;
      event.preventDefault();
    });
    // Close up, so that a finger's width is a small part of the object; or the whole photo.
    function look(close) {
      const xs = points.map(([x]) => x), ys = points.map(([, y]) => y);
      const left = Math.min(...xs), top = Math.min(...ys), across = Math.max(...xs) - left, down = Math.max(...ys) - top;
      const room = 0.12 * Math.max(across, down);
      const x = Math.max(-0.5, left - 2 * room), y = Math.max(-0.5, top - room);
      svg.setAttribute('viewBox', close ? `${x} ${y} ${Math.min(wide - 0.5 - x, left + across + 2 * room - x)} ${Math.min(high - 0.5 - y, top + down + room - y)}` : whole);
      view.textContent = close ? 'Whole photo' : 'Close up';
      view.dataset.close = String(close);
      draw();
    }
    const view = root.querySelector('[data-do=view]');
    function act(what) {
      if (what === 'view') look(view.dataset.close !== 'true');
      else if (STEPS[what]) nudge(...STEPS[what].map((step) => step * 2 * perPixel()));
      else if (what === 'before') choose(chosen - 1);
      else if (what === 'after') choose(chosen + 1);
      else {
        if (what === 'undo' && !undo.length) return;
        if (what === 'reset') keepOld();
        points = what === 'undo' ? undo.pop() : parsed(measured);
        draw();
        note();
      }
    }
    for (const button of root.querySelectorAll('[data-do]')) button.addEventListener('click', () => act(button.dataset.do));
    const WORDS = ['hardly more than the point', 'a little to either side', 'some of the line', 'a stretch of the line', 'a long stretch', 'a large part of the line'];
    reach.addEventListener('input', () => reach.setAttribute('aria-valuetext', WORDS[Number(reach.value)]));
    new ResizeObserver(draw).observe(svg);
    stages.push({ differs: () => written(points) !== measured });
    look(true);
    root.dataset.ready = 'true';
  }

  document.querySelectorAll('.photo-stage').forEach(begin);
  changed();
})();
