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
  let size = 100, points, faces, reachOf, seamLines, arrow, asked = false;
  const axis = new T.Vector3(...JSON.parse(stage.dataset.axis));

  function surface() {
    const made = new T.MeshLambertMaterial({ vertexColors: true, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1, side: T.DoubleSide });
    made.onBeforeCompile = (shader) => {
      Object.assign(shader.uniforms, { dark: { value: linear('#8C2332') }, grain: { value: renderer.getPixelRatio() } });
      shader.vertexShader = shader.vertexShader
        .replace('#include <common>', '#include <common>\nattribute float hatch, kept;\nvarying float vHatch, vKept;')
        .replace('#include <begin_vertex>', '#include <begin_vertex>\nvHatch = hatch;\nvKept = kept;');
      shader.fragmentShader = shader.fragmentShader
        .replace('#include <common>', '#include <common>\nvarying float vHatch, vKept;\nuniform vec3 dark;\nuniform float grain;')
        .replace('#include <color_fragment>', `#include <color_fragment>
          float every = vHatch > 1.5 ? 6.0 : 10.0;
          if (vHatch > 0.5 && mod(gl_FragCoord.x + gl_FragCoord.y, every * grain) < (vHatch > 1.5 ? 4.0 : 3.0) * grain) diffuseColor.rgb = dark;
          if (vKept > 0.5) diffuseColor.rgb *= 0.5;`);
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
    made.setAttribute('kept', new T.BufferAttribute(new Float32Array(faces.length), 1));
    made.setAttribute('hatch', new T.BufferAttribute(new Float32Array(faces.length), 1));
    reachOf = made;
    scene.add(new T.Mesh(made, surface()));
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
    return new T.Mesh(made, new T.MeshBasicMaterial({ color: linear('#A8481F'), side: T.DoubleSide }));
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
    leaves.textContent = ml < 0.05 ? 'Leaves in two pieces with nothing to fill.' : `Leaves once ${fillSays.textContent.replace('\u2009', ' ')} of oil clay closes what locks.`;
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
    if (band.says) band.says.textContent = now ? `Between ${now.lo.toFixed(0)} and ${now.hi.toFixed(0)} mm, dark on the object.` : 'Shown dark on the object.';
    const kept = reachOf.getAttribute('kept'), at = reachOf.getAttribute('position');
    for (let v = 0; v < kept.count; v++) { const z = now ? at.array[3 * v + now.k] : 0; kept.setX(v, now && z >= now.lo && z <= now.hi ? 1 : 0); }
    kept.needsUpdate = true;
    invalidate();
  }
  for (const part of [band.axis, band.from, band.to]) if (part) part.addEventListener('input', () => { if (reachOf) darken(); });
  for (const button of document.querySelectorAll('.choose')) button.addEventListener('click', () => { document.getElementById('pieces').value = button.dataset.pieces; });

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
    if (!ray.intersectObject(arrow).length) return;
    grabbed = true;
    controls.enabled = false;
    canvas.setPointerCapture(event.pointerId);
    const eye = camera.position.clone().sub(controls.target);
    front = axis.dot(eye) >= 0;
  });
  canvas.addEventListener('pointermove', (event) => {
    if (!grabbed) return;
    ray.setFromCamera(seat(event), camera);
    const from = ray.ray.origin.clone().sub(centre), along = ray.ray.direction;
    const near = from.addScaledVector(along, -from.dot(along)), reach = 0.8 * size, off = near.length();
    const to = off >= reach ? near : near.addScaledVector(along, (front ? -1 : 1) * Math.sqrt(reach * reach - off * off));
    point(to, 'hand');
  });
  for (const name of ['pointerup', 'pointercancel']) canvas.addEventListener(name, () => { grabbed = false; controls.enabled = true; });

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

  ClaybedShape.fetched(`/api/objects/${object}/shape`).then((shape) => { build(shape); point(axis.clone(), 'start'); })
    .catch((trouble) => { leaves.textContent = trouble.message; });
})();
