'use strict';
// The object with the pull: drag the arrow and see what locks. A picture is drawn only when something changed.
(() => {
  const T = THREE;
  const stage = document.getElementById('stage');
  const canvas = stage.querySelector('canvas');
  const object = stage.dataset.object;
  const round = document.getElementById('round'), tilt = document.getElementById('tilt');
  const fillSays = document.getElementById('live-fill'), undercutSays = document.getElementById('live-undercut');
  const leaves = document.getElementById('leaves');
  const linear = (hex) => new T.Color().setStyle(hex, T.SRGBColorSpace);

  let renderer;
  try {
    renderer = new T.WebGLRenderer({ canvas, antialias: true, alpha: true, preserveDrawingBuffer: true });
  } catch {
    stage.innerHTML = '<p class="lead">This browser cannot draw in 3D. The column beside this is complete.</p>';
    document.querySelector('.picture .under').hidden = true; // what it holds acts on the picture alone
    return;
  }
  renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
  const scene = new T.Scene();
  scene.add(new T.HemisphereLight(0xffffff, 0xc9c2b4, 2.3));
  const sun = new T.DirectionalLight(0xffffff, 1.7);
  scene.add(sun, sun.target);
  const camera = new T.OrthographicCamera(-1, 1, 1, -1, -10, 10);
  camera.up.set(0, 0, 1);
  const controls = new T.OrbitControls(camera, canvas);
  controls.enableDamping = false;

  const COLOURS = ['#D8BE8E', '#8FA3B3', '#CFC8BA', '#D9A6A4', '#D9A6A4'];
  const centre = new T.Vector3();
  let size = 100, points, faces, reachOf, body, seamLines, seam, arrow, asked = false;
  // Where no seam may run, as the surface is drawn: a band along `across`, and painted balls.
  const kept = { across: { value: new T.Vector3() }, span: { value: [1, -1] }, spots: { value: 0 }, spot: { value: new Float32Array(4 * ClaybedPaint.MOST) } };
  const axis = new T.Vector3(...JSON.parse(stage.dataset.axis));

  function surface() {
    const made = new T.MeshLambertMaterial({ vertexColors: true, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1, side: T.DoubleSide });
    // Band and spots are judged at every pixel: a flat side of two triangles is painted as finely as a round one.
    made.onBeforeCompile = (shader) => {
      Object.assign(shader.uniforms, { dark: { value: linear('#8C2332') }, slate: { value: linear('#2A3036') }, grain: { value: renderer.getPixelRatio() }, ...kept });
      shader.vertexShader = shader.vertexShader
        .replace('#include <common>', '#include <common>\nattribute float hatch;\nvarying float vHatch;\nvarying vec3 vAt;')
        .replace('#include <begin_vertex>', '#include <begin_vertex>\nvHatch = hatch;\nvAt = position;');
      shader.fragmentShader = shader.fragmentShader
        .replace('#include <common>', `#include <common>\nvarying float vHatch;\nvarying vec3 vAt;\nuniform vec3 dark, slate, across;\nuniform vec2 span;\nuniform float grain;\nuniform int spots;\nuniform vec4 spot[${ClaybedPaint.MOST}];`)
        .replace('#include <color_fragment>', `#include <color_fragment>
          float every = vHatch > 1.5 ? 6.0 : 10.0;
          if (vHatch > 0.5 && mod(gl_FragCoord.x + gl_FragCoord.y, every * grain) < (vHatch > 1.5 ? 4.0 : 3.0) * grain) diffuseColor.rgb = dark;
          float along = dot(vAt, across);
          bool barred = along > span.x && along < span.y;
          for (int k = 0; k < ${ClaybedPaint.MOST}; k++) {
            if (k >= spots) break;
            vec3 off = vAt - spot[k].xyz;
            barred = barred || dot(off, off) < spot[k].w * spot[k].w;
          }
          // A lattice, which no stripes of what locks can be taken for in grey.
          bool lattice = mod(gl_FragCoord.x - gl_FragCoord.y, 8.0 * grain) < 2.5 * grain || mod(gl_FragCoord.x + gl_FragCoord.y, 8.0 * grain) < 2.5 * grain;
          if (barred) diffuseColor.rgb = lattice ? slate : diffuseColor.rgb * 0.7;`);
    };
    return made;
  }

  function build(shape) {
    size = shape.size;
    points = new Float32Array(shape.points.length);
    for (let k = 0; k < points.length; k++) points[k] = shape.low[k % 3] + shape.points[k] / 65535 * size;
    faces = shape.faces;
    const position = new Float32Array(faces.length * 3), normal = new Float32Array(faces.length * 3);
    box = new T.Box3();
    const a = new T.Vector3(), b = new T.Vector3(), c = new T.Vector3();
    for (let f = 0; f < faces.length; f += 3) {
      for (let k = 0; k < 3; k++) {
        const v = faces[f + k] * 3;
        position.set([points[v], points[v + 1], points[v + 2]], (f + k) * 3);
      }
      a.fromArray(position, f * 3); b.fromArray(position, f * 3 + 3); c.fromArray(position, f * 3 + 6);
      box.expandByPoint(a); box.expandByPoint(b); box.expandByPoint(c);
      b.sub(a); c.sub(a); b.cross(c).normalize();
      for (let k = 0; k < 3; k++) normal.set([b.x, b.y, b.z], (f + k) * 3);
    }
    box.getCenter(centre);
    const made = new T.BufferGeometry();
    made.setAttribute('position', new T.BufferAttribute(position, 3));
    made.setAttribute('normal', new T.BufferAttribute(normal, 3));
    made.setAttribute('color', new T.BufferAttribute(new Float32Array(faces.length * 3).fill(0.62), 3));
    made.setAttribute('hatch', new T.BufferAttribute(new Float32Array(faces.length), 1));
    reachOf = made;
    body = new T.Mesh(made, surface());
    scene.add(body);
    seamLines = new T.LineSegments(new T.BufferGeometry(), new T.LineBasicMaterial({ color: linear('#2A3036'), linewidth: 2 }));
    scene.add(seamLines);
    arrow = handle();
    scene.add(arrow);
    controls.target.copy(centre);
    camera.position.copy(centre).add(new T.Vector3(-0.52, -0.9, 0.46).normalize().multiplyScalar(2 * size));
    camera.near = -20 * size; camera.far = 20 * size;
    controls.update();
    fit();
  }

  // The colour of what is to be done, on the bench that is shown.
  const acting = () => getComputedStyle(document.documentElement).getPropertyValue('--act').trim();
  new MutationObserver(() => { if (arrow) { arrow.material.color = linear(acting()); invalidate(); } }).observe(document.documentElement, { attributeFilter: ['data-bench'] });

  // Shaft and head of the pull, as one mesh that can be grabbed.
  function handle() {
    const parts = [], ring = 20, r = 0.012 * size, R = 0.036 * size, from = 0.56 * size, neck = 0.74 * size, tip = 0.86 * size;
    const at = (radius, z, k) => { const t = k / ring * 2 * Math.PI; return [radius * Math.cos(t), radius * Math.sin(t), z]; };
    for (let k = 0; k < ring; k++) {
      const band = (r0, z0, r1, z1) => parts.push(...at(r0, z0, k), ...at(r0, z0, k + 1), ...at(r1, z1, k + 1), ...at(r0, z0, k), ...at(r1, z1, k + 1), ...at(r1, z1, k));
      band(r, from, r, neck); band(r, neck, R, neck); band(R, neck, 0, tip); band(0, from, r, from);
    }
    const made = new T.BufferGeometry();
    made.setAttribute('position', new T.BufferAttribute(new Float32Array(parts), 3));
    return new T.Mesh(made, new T.MeshBasicMaterial({ color: linear(acting()), side: T.DoubleSide }));
  }

  function paint(answer) {
    const colour = reachOf.getAttribute('color'), hatch = reachOf.getAttribute('hatch');
    const table = COLOURS.map(linear);
    for (let f = 0; f < answer.reach.length; f++) {
      const c = table[answer.reach[f]], h = answer.reach[f] > 3 ? 2 : answer.reach[f] > 2 ? 1 : 0;
      for (let k = 3 * f; k < 3 * f + 3; k++) { colour.setXYZ(k, c.r, c.g, c.b); hatch.setX(k, h); }
    }
    colour.needsUpdate = hatch.needsUpdate = true;
    const line = new Float32Array(answer.seam.length * 3);
    for (let k = 0; k < answer.seam.length; k++) for (let j = 0; j < 3; j++) line[3 * k + j] = points[3 * answer.seam[k] + j];
    seamLines.geometry.dispose();
    seamLines.geometry = new T.BufferGeometry();
    seamLines.geometry.setAttribute('position', new T.BufferAttribute(line, 3));
    seam = line;
    tellSpots();
    say(answer);
    stage.dataset.shown = answer.axis.map((v) => v.toFixed(4)).join(',');
    invalidate();
  }

  const figure = (value, unit) => { const s = document.createElement('small'); s.textContent = unit; return [document.createTextNode(value + '\u2009'), s]; };
  function say(answer) {
    const us = fillSays.textContent.includes('oz') || fillSays.textContent.includes('qt');
    const ml = answer.fill_ml, small = us ? ml / 29.5735295625 : ml;
    fillSays.replaceChildren(...figure(small < 0.05 ? '0' : small.toFixed(small < 10 ? 1 : 0), us ? 'fl oz' : 'ml'));
    undercutSays.replaceChildren(...figure((us ? answer.undercut_cm2 / 6.4516 : answer.undercut_cm2).toFixed(1), us ? 'in²' : 'cm²'));
    leaves.textContent = ml < 0.05 ? 'Leaves in two pieces with nothing to fill.' : `Leaves in two pieces once ${fillSays.textContent.replace('\u2009', ' ')} of oil clay closes what locks.`;
  }

  let waiting = null, busy = false;
  async function ask() {
    waiting = axis.clone();
    if (busy) return;
    busy = true;
    try {
      while (waiting) {
        const d = waiting;
        waiting = null;
        const answer = await ClaybedShape.fetched(`/api/objects/${object}/turn?x=${d.x}&y=${d.y}&z=${d.z}`);
        if (answer) paint(answer);
      }
    } catch (trouble) {
      leaves.textContent = trouble.message;
    } finally {
      busy = false;
    }
  }

  function point(to, by) {
    axis.copy(to).normalize();
    arrow.position.copy(centre);
    arrow.quaternion.setFromUnitVectors(new T.Vector3(0, 0, 1), axis);
    if (by !== 'slider') {
      round.value = ((Math.atan2(axis.y, axis.x) * 180 / Math.PI) + 360) % 360;
      tilt.value = Math.acos(Math.max(-1, Math.min(1, axis.z))) * 180 / Math.PI;
    }
    round.setAttribute('aria-valuetext', `${Math.round(round.value)} degrees round`);
    tilt.setAttribute('aria-valuetext', `${Math.round(tilt.value)} degrees from upright`);
    for (const way of document.querySelectorAll('.way')) {
      const d = new T.Vector3(...JSON.parse(way.dataset.axis));
      way.setAttribute('aria-pressed', String(Math.abs(d.dot(axis)) > 0.99999));
    }
    const field = document.getElementById('axis'), keep = document.getElementById('keep-axis');
    if (field) field.value = keep && keep.checked ? axis.toArray().map((v) => v.toFixed(6)).join(',') : '';
    invalidate();
    ask();
  }

  // A band where no seam may run: chosen across an axis, and darkened on the object.
  const band = { axis: document.getElementById('band-axis'), from: document.getElementById('band-from'), to: document.getElementById('band-to'), field: document.getElementById('keep_out'), says: document.getElementById('band-says') };
  let box = null;
  function bandOf() {
    if (!band.axis || !band.axis.value || !box) return null;
    const axis = band.axis.value, lo = box.min[axis], span = box.max[axis] - lo;
    const ends = [Number(band.from.value), Number(band.to.value)].sort((a, b) => a - b).map((part) => lo + span * part / 100);
    return { axis, k: 'xyz'.indexOf(axis), lo: ends[0], hi: ends[1] };
  }
  function darken() {
    const now = bandOf();
    if (band.field) band.field.value = now ? `${now.lo.toFixed(2)}mm<=${now.axis}<=${now.hi.toFixed(2)}mm` : '';
    if (band.says) band.says.textContent = now ? `Between ${now.lo.toFixed(0)} and ${now.hi.toFixed(0)} mm, hatched on the object.` : 'Shown hatched on the object.';
    kept.across.value.set(0, 0, 0);
    if (now) kept.across.value.setComponent(now.k, 1);
    kept.span.value = now ? [now.lo, now.hi] : [1, -1];
    invalidate();
  }
  for (const part of [band.axis, band.from, band.to]) if (part) part.addEventListener('input', () => { if (reachOf) darken(); });
  for (const button of document.querySelectorAll('.choose')) button.addEventListener('click', () => { document.getElementById('pieces').value = button.dataset.pieces; });

  // The brush. While it is on, a pointer on the object paints and one beside it turns the view, as ever; keys
  // move a cross over the picture and paint what lies under it.
  const brush = { on: document.getElementById('brush'), tools: document.getElementById('brush-tools'), wide: document.getElementById('brush-wide'), wideSays: document.getElementById('brush-wide-says'), undo: document.getElementById('brush-undo'), clear: document.getElementById('brush-clear'), says: document.getElementById('brush-says'), fields: document.getElementById('spots'), cross: document.getElementById('cross') };
  const us = stage.dataset.us === 'true';
  const long = (mm) => us ? ClaybedRule.inches(mm) : `${mm.toFixed(mm < 10 ? 1 : 0)} mm`;
  let painting = false, cross = { x: 0, y: 0 };
  const book = ClaybedPaint.book(`claybed-paint-${object}`, (balls) => {
    kept.spots.value = balls.length;
    balls.forEach((ball, k) => kept.spot.value.set(ball, 4 * k));
    if (brush.fields) {
      brush.fields.replaceChildren(...balls.map((ball) => Object.assign(document.createElement('input'), { type: 'hidden', name: 'keep_out', value: ClaybedPaint.typed(ball) })));
      brush.undo.disabled = brush.clear.disabled = !balls.length;
    }
    tellSpots();
    invalidate();
  });
  function tellSpots(more) {
    if (!brush.says) return;
    const balls = book.balls(), count = `${balls.length} spot${balls.length === 1 ? '' : 's'} painted`;
    let runs = '';
    if (balls.length && seam) {
      let within = 0;
      for (let k = 0; k + 5 < seam.length; k += 6) within += ClaybedPaint.inside(seam.subarray(k, k + 3), seam.subarray(k + 3, k + 6), balls);
      runs = within < 0.5 ? '; this seam keeps off them.' : `; ${long(within)} of this seam runs there. Turn the arrow, or let the plan look for another way.`;
    }
    brush.says.textContent = more || (balls.length ? count + runs : brushing() ? 'Drag over the object. Beside it, dragging turns the view.' : '');
  }
  function dab() {
    const hit = body && ray.intersectObject(body)[0];
    if (!hit) return false;
    if (!book.add(hit.point.x, hit.point.y, hit.point.z, radius())) tellSpots('That is as much as can be painted. Use a wider brush, or a band.');
    return true;
  }
  // From a fiftieth to a quarter of the object's size, evenly by ratio.
  const radius = () => 0.02 * size * 12.5 ** (brush.wide.value / 100);
  function showWide() {
    brush.wideSays.textContent = `${long(2 * radius())} wide`;
    brush.wide.setAttribute('aria-valuetext', brush.wideSays.textContent);
  }
  function showCross() {
    brush.cross.hidden = !brushing() || !canvas.matches(':focus-visible');
    brush.cross.style.left = `${(cross.x + 1) * 50}%`;
    brush.cross.style.top = `${(1 - cross.y) * 50}%`;
  }
  const brushing = () => Boolean(brush.on) && brush.on.getAttribute('aria-pressed') === 'true';
  if (brush.on) {
    brush.on.addEventListener('click', () => {
      const now = !brushing();
      brush.on.setAttribute('aria-pressed', String(now));
      brush.tools.hidden = !now;
      stage.classList.toggle('brushing', now);
      stage.closest('.picture').classList.toggle('passes', now);
      tellSpots();
      if (now) showWide();
      showCross();
    });
    brush.wide.addEventListener('input', showWide);
    brush.undo.addEventListener('click', () => book.undo());
    brush.clear.addEventListener('click', () => book.clear());
    for (const kind of ['focus', 'blur']) canvas.addEventListener(kind, showCross);
  }
  canvas.addEventListener('keydown', (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (step && brushing() && !event.shiftKey) {
      cross = { x: Math.max(-1, Math.min(1, cross.x + 0.03 * step[0])), y: Math.max(-1, Math.min(1, cross.y + 0.03 * step[1])) };
      showCross();
    } else if (step) {
      const arm = camera.position.clone().sub(controls.target), round = Math.atan2(arm.y, arm.x) + 0.12 * step[0];
      const rise = Math.min(3.1, Math.max(0.04, Math.acos(arm.z / arm.length()) - 0.12 * step[1]));
      camera.position.copy(controls.target).add(new T.Vector3(Math.sin(rise) * Math.cos(round), Math.sin(rise) * Math.sin(round), Math.cos(rise)).multiplyScalar(arm.length()));
      controls.update();
    } else if (brushing() && (event.key === 'Enter' || event.key === ' ')) {
      ray.setFromCamera(cross, camera);
      book.begin();
      if (!dab()) tellSpots('The cross is not on the object.');
      book.end();
    } else if (brushing() && event.key === 'Backspace') book.undo();
    else return;
    event.preventDefault();
    invalidate();
  });

  function draw() {
    asked = false;
    const eye = camera.position.clone().sub(controls.target).normalize();
    const right = new T.Vector3().crossVectors(camera.up, eye).normalize();
    sun.target.position.copy(controls.target);
    sun.position.copy(controls.target).addScaledVector(eye, size).addScaledVector(right, -0.7 * size).add(new T.Vector3(0, 0, 0.6 * size));
    renderer.render(scene, camera);
    stage.dataset.drawn = String(1 + Number(stage.dataset.drawn || 0));
  }
  function invalidate() { if (!asked) { asked = true; requestAnimationFrame(draw); } }

  function fit() {
    const w = stage.clientWidth, h = stage.clientHeight;
    if (!w || !h) return;
    renderer.setSize(w, h, false);
    const half = 0.95 * size * Math.max(1, h / w);
    camera.top = half; camera.bottom = -half; camera.left = -half * w / h; camera.right = half * w / h;
    camera.updateProjectionMatrix();
    invalidate();
  }

  // The pull follows the pointer over a ball around the object.
  const ray = new T.Raycaster();
  let grabbed = false, front = true;
  const seat = (event) => {
    const box = canvas.getBoundingClientRect();
    return { x: (event.clientX - box.left) / box.width * 2 - 1, y: 1 - (event.clientY - box.top) / box.height * 2 };
  };
  canvas.addEventListener('pointerdown', (event) => {
    if (!arrow) return;
    ray.setFromCamera(seat(event), camera);
    if (!ray.intersectObject(arrow).length) {
      if (!brushing() || event.button !== 0 || !event.isPrimary) return;
      book.begin();
      painting = dab();
      if (painting) { controls.enabled = false; canvas.setPointerCapture(event.pointerId); } else book.end();
      return;
    }
    grabbed = true;
    controls.enabled = false;
    canvas.setPointerCapture(event.pointerId);
    const eye = camera.position.clone().sub(controls.target);
    front = axis.dot(eye) >= 0;
  });
  canvas.addEventListener('pointermove', (event) => {
    if (painting && event.isPrimary) { ray.setFromCamera(seat(event), camera); dab(); return; }
    if (!grabbed) return;
    ray.setFromCamera(seat(event), camera);
    const from = ray.ray.origin.clone().sub(centre), along = ray.ray.direction;
    const near = from.addScaledVector(along, -from.dot(along)), reach = 0.8 * size, off = near.length();
    const to = off >= reach ? near : near.addScaledVector(along, (front ? -1 : 1) * Math.sqrt(reach * reach - off * off));
    point(to, 'hand');
  });
  for (const name of ['pointerup', 'pointercancel']) canvas.addEventListener(name, () => { if (painting) book.end(); grabbed = painting = false; controls.enabled = true; });

  for (const slider of [round, tilt]) {
    slider.addEventListener('input', () => {
      const a = round.value * Math.PI / 180, t = tilt.value * Math.PI / 180;
      point(new T.Vector3(Math.sin(t) * Math.cos(a), Math.sin(t) * Math.sin(a), Math.cos(t)), 'slider');
    });
  }
  for (const way of document.querySelectorAll('.way')) way.addEventListener('click', () => point(new T.Vector3(...JSON.parse(way.dataset.axis)), 'way'));
  const keep = document.getElementById('keep-axis');
  if (keep) keep.addEventListener('change', () => point(axis.clone(), 'keep'));
  controls.addEventListener('change', invalidate);
  new ResizeObserver(fit).observe(stage);

  // Where the arrow's head is on the page, for whoever drives it without eyes.
  window.claybedTip = () => {
    const tip = centre.clone().addScaledVector(axis, 0.8 * size).project(camera), box = canvas.getBoundingClientRect();
    return { x: box.left + (tip.x + 1) / 2 * box.width, y: box.top + (1 - tip.y) / 2 * box.height };
  };

  // The object's reach along its axes, mm: what is painted must lie within it.
  window.claybedReach = () => ['x', 'y', 'z'].map((axis) => [box.min[axis], box.max[axis]]);

  ClaybedShape.fetched(`/api/objects/${object}/shape`).then((shape) => { build(shape); book.tell(); darken(); point(axis.clone(), 'start'); })
    .catch((trouble) => { leaves.textContent = trouble.message; });
})();
