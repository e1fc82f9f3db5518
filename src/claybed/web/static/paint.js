'use strict';
// A brush for where no seam may run. What is painted is a list of balls in the object's frame (middle and reach,
// mm), so that it means the same whatever triangles the object is made of; it is kept on this device.
const ClaybedPaint = (() => {
  const MOST = 96, CLOSE = 0.4;

  // `shown` is told of every change. Strokes are lists of balls; undo takes the last stroke back.
  function book(name, shown) {
    let strokes = [];
    try {
      const found = JSON.parse(localStorage.getItem(name) || '[]');
      if (Array.isArray(found)) strokes = found.filter((one) => Array.isArray(one) && one.every((ball) => Array.isArray(ball) && ball.length === 4 && ball.every(Number.isFinite)));
    } catch { /* nothing was kept */ }
    const balls = () => strokes.flat();
    const changed = () => {
      try { localStorage.setItem(name, JSON.stringify(strokes)); } catch { /* it lasts for this page then */ }
      shown(balls());
    };
    return {
      balls,
      begin() { strokes.push([]); },
      // A ball that lies almost wholly in one already painted says nothing new. False when no more fit.
      add(x, y, z, r) {
        const all = balls();
        if (all.some(([a, b, c, s]) => s >= r && Math.hypot(x - a, y - b, z - c) < CLOSE * r)) return true;
        if (all.length >= MOST) return false;
        strokes[strokes.length - 1].push([x, y, z, r]);
        changed();
        return true;
      },
      end() { strokes = strokes.filter((one) => one.length); },
      undo() { strokes.pop(); changed(); },
      clear() { strokes = []; changed(); },
      tell: changed,
    };
  }

  // Length of the part of a straight edge that lies in any of the balls, by its middle parts.
  function inside(p, q, balls) {
    const long = Math.hypot(q[0] - p[0], q[1] - p[1], q[2] - p[2]), parts = Math.max(1, Math.min(64, Math.ceil(long)));
    let within = 0;
    for (let k = 0; k < parts; k++) {
      const t = (k + 0.5) / parts, x = p[0] + t * (q[0] - p[0]), y = p[1] + t * (q[1] - p[1]), z = p[2] + t * (q[2] - p[2]);
      if (balls.some(([a, b, c, r]) => (x - a) ** 2 + (y - b) ** 2 + (z - c) ** 2 < r * r)) within += long / parts;
    }
    return within;
  }

  const typed = ([x, y, z, r]) => `within ${r.toFixed(2)}mm of (${[x, y, z].map((v) => v.toFixed(2)).join(',')})`;
  return { MOST, book, inside, typed };
})();
