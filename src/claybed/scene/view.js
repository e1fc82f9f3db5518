'use strict';
// Draws the plan. Nothing moves by itself: a picture is made only when something was changed.
(() => {
  const T = THREE;
  const told = JSON.parse(document.getElementById('scene').textContent);
  const canvas = document.getElementById('stage');
  const root = document.documentElement;
  const FILL = 3;
  // In a page of the app, the page beside it tells everything but the picture.
  const framed = window.parent !== window;
  if (framed) root.dataset.framed = '';
  // How far each piece moves, in parts of the closed mold; far enough that the upper one does not hide the model.
  const FULLY_APART = 0.95;
  const COS_CREASE = Math.cos(38 * Math.PI / 180);

  let renderer;
  try {
    renderer = new T.WebGLRenderer({ canvas, antialias: true });
  } catch {
    canvas.parentElement.innerHTML = '<p class="sorry">This browser cannot draw in 3D. The figures beside this are complete, and the pictures are on the bench sheet.</p>';
    return;
  }
  renderer.localClippingEnabled = true;
  renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));

  const scene = new T.Scene();
  scene.add(new T.HemisphereLight(0xffffff, 0xc9c2b4, 2.3));
  const sun = new T.DirectionalLight(0xffffff, 1.9);
  scene.add(sun, sun.target);
  const size = told.size;
  const camera = new T.OrthographicCamera(-1, 1, 1, -1, -40 * size, 40 * size);
  camera.up.set(0, 0, 1);
  const plane = new T.Plane(new T.Vector3(-1, 0, 0), 0);
  const parts = [];

  const bytes = (text) => Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const linear = (hex) => new T.Color().setStyle(hex, T.SRGBColorSpace);

  function unpack(mesh) {
    const steps = new Uint16Array(bytes(mesh.p).buffer);
    const points = new Float32Array(steps.length);
    for (let k = 0; k < steps.length; k++) points[k] = told.low[k % 3] + steps[k] / 65535 * size;
    return {
      points, faces: new Uint32Array(bytes(mesh.f).buffer), origin: bytes(mesh.o), edges: new Uint32Array(bytes(mesh.e).buffer),
    };
  }

  // Round what is round, keep what is sharp: a corner's normal is the mean of the faces that bend little from its own.
  function geometry(mesh) {
    const { points, faces, origin } = unpack(mesh);
    const count = faces.length / 3;
    const unit = new Float32Array(count * 3), big = new Float32Array(count * 3);
    const starts = new Uint32Array(points.length / 3 + 1);
    for (let f = 0; f < count; f++) {
      const [a, b, c] = [faces[3 * f] * 3, faces[3 * f + 1] * 3, faces[3 * f + 2] * 3];
      const ux = points[b] - points[a], uy = points[b + 1] - points[a + 1], uz = points[b + 2] - points[a + 2];
      const vx = points[c] - points[a], vy = points[c + 1] - points[a + 1], vz = points[c + 2] - points[a + 2];
      const n = [uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx];
      const length = Math.hypot(...n) || 1;
      for (let k = 0; k < 3; k++) { big[3 * f + k] = n[k]; unit[3 * f + k] = n[k] / length; starts[faces[3 * f + k] + 1]++; }
    }
    for (let v = 1; v < starts.length; v++) starts[v] += starts[v - 1];
    const at = starts.slice(), around = new Uint32Array(faces.length);
    for (let k = 0; k < faces.length; k++) around[at[faces[k]]++] = (k / 3) | 0;

    const position = new Float32Array(count * 9), normal = new Float32Array(count * 9);
    const colour = new Float32Array(count * 9), hatched = new Float32Array(count * 3), walled = new Float32Array(count * 3);
    const counts = told.wall ? told.wall.walled : [];
    const table = mesh.colours.map(linear);
    for (let f = 0; f < count; f++) {
      const paint = table[origin[f]] || table[0];
      for (let k = 0; k < 3; k++) {
        const v = faces[3 * f + k], o = 9 * f + 3 * k;
        let x = 0, y = 0, z = 0;
        for (let j = starts[v]; j < starts[v + 1]; j++) {
          const g = 3 * around[j];
          if (unit[3 * f] * unit[g] + unit[3 * f + 1] * unit[g + 1] + unit[3 * f + 2] * unit[g + 2] > COS_CREASE) {
            x += big[g]; y += big[g + 1]; z += big[g + 2];
          }
        }
        const length = Math.hypot(x, y, z);
        position.set([points[3 * v], points[3 * v + 1], points[3 * v + 2]], o);
        if (length > 0) normal.set([x / length, y / length, z / length], o);
        else normal.set([unit[3 * f], unit[3 * f + 1], unit[3 * f + 2]], o);
        colour.set([paint.r, paint.g, paint.b], o);
        hatched[3 * f + k] = origin[f] === FILL ? 1 : 0;
        walled[3 * f + k] = counts.includes(origin[f]) ? 1 : 0;
      }
    }
    const made = new T.BufferGeometry();
    made.setAttribute('position', new T.BufferAttribute(position, 3));
    made.setAttribute('normal', new T.BufferAttribute(normal, 3));
    made.setAttribute('color', new T.BufferAttribute(colour, 3));
    made.setAttribute('hatched', new T.BufferAttribute(hatched, 1));
    made.setAttribute('walled', new T.BufferAttribute(walled, 1));
    return { made, points };
  }

  function creases(mesh) {
    const { points, edges } = unpack(mesh);
    const made = new T.BufferGeometry();
    const ends = new Float32Array(edges.length * 3);
    for (let k = 0; k < edges.length; k++) for (let c = 0; c < 3; c++) ends[3 * k + c] = points[3 * edges[k] + c];
    made.setAttribute('position', new T.BufferAttribute(ends, 3));
    return made;
  }

  // The plaster's wall at every point is its least distance to the outer planes of the block: dark where it is
  // thin, pale where it is thick, with lines of equal thickness.
  const wall = told.wall;
  const planes = wall ? wall.outer.length : 1;
  const thickness = {
    wallOn: { value: 0 }, outer: { value: new Float32Array(wall ? wall.outer.flat() : 4) },
    ramp: { value: new Float32Array((wall ? wall.ramp : Array(5).fill('#FFFFFF')).flatMap((hex) => { const c = linear(hex); return [c.r, c.g, c.b]; })) },
    range: { value: wall ? [wall.low, Math.max(wall.high - wall.low, 1e-6), wall.step] : [0, 1, 1] }, contour: { value: linear(told.contour || told.line) },
  };

  // One material for a body: fill is hatched in screen space, and what is seen from behind is a cut face.
  function body(cutColour, lean) {
    const made = new T.MeshLambertMaterial({ vertexColors: true, side: T.DoubleSide, clippingPlanes: [plane], polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 });
    made.onBeforeCompile = (shader) => {
      Object.assign(shader.uniforms, {
        fillDark: { value: linear(told.fill[0]) }, fillPale: { value: linear(told.fill[1]) },
        cutColour: { value: linear(cutColour) }, lean: { value: lean }, grain: { value: renderer.getPixelRatio() }, ...thickness,
      });
      shader.vertexShader = shader.vertexShader
        .replace('#include <common>', '#include <common>\nattribute float hatched, walled;\nvarying float vHatched, vWalled;\nvarying vec3 vAt;')
        .replace('#include <begin_vertex>', '#include <begin_vertex>\nvHatched = hatched;\nvWalled = walled;\nvAt = position;');
      shader.fragmentShader = shader.fragmentShader
        .replace('#include <common>', `#include <common>\nvarying float vHatched, vWalled;\nvarying vec3 vAt;\nuniform vec3 fillDark, fillPale, cutColour, range, contour;\nuniform float lean, grain, wallOn;\nuniform vec4 outer[${planes}];\nuniform vec3 ramp[5];`)
        .replace('#include <color_fragment>', `#include <color_fragment>
          bool asWall = wallOn > 0.5 && vWalled > 0.5;
          if (asWall) diffuseColor.rgb = vec3(1.0);
          else if (vHatched > 0.5) diffuseColor.rgb = mod(gl_FragCoord.x + gl_FragCoord.y, 10.0 * grain) < 5.0 * grain ? fillDark : fillPale;`)
        .replace('#include <opaque_fragment>', `if (asWall) {
            float thick = 1e9;
            for (int k = 0; k < ${planes}; k++) thick = min(thick, dot(outer[k].xyz, vAt) - outer[k].w);
            float share = 4.0 * clamp((thick - range.x) / range.y, 0.0, 1.0);
            int step0 = int(min(floor(share), 3.0));
            vec3 shown = mix(ramp[step0], ramp[step0 + 1], share - float(step0));
            float every = thick / range.z, off = abs(fract(every - 0.5) - 0.5) / max(fwidth(every), 1e-6);
            if (off < 0.6 * grain) shown = contour;
            outgoingLight = shown * (0.76 + 0.24 * clamp(dot(outgoingLight, vec3(0.3333)), 0.0, 1.0));
          }
          if (!gl_FrontFacing) {
            float stripe = mod(gl_FragCoord.x + lean * gl_FragCoord.y, 9.0 * grain);
            outgoingLight = stripe < 1.3 * grain ? cutColour * 0.35 : cutColour * 0.92;
          }
          #include <opaque_fragment>`);
    };
    return made;
  }

  function tube(loop, radius) {
    const sides = 6, position = [], normal = [];
    const spin = new T.Vector3(), along = new T.Vector3(), a = new T.Vector3(), b = new T.Vector3(), u = new T.Vector3(), w = new T.Vector3();
    const put = (p, q, r) => {
      a.fromArray(p); b.fromArray(q); along.subVectors(b, a);
      if (along.lengthSq() < 1e-12) return;
      along.normalize();
      u.set(Math.abs(along.z) < 0.9 ? 0 : 1, 0, Math.abs(along.z) < 0.9 ? 1 : 0).cross(along).normalize();
      w.crossVectors(along, u);
      a.addScaledVector(along, -r * 0.5); b.addScaledVector(along, r * 0.5);
      const ring = [];
      for (let k = 0; k <= sides; k++) {
        const t = k / sides * 2 * Math.PI;
        ring.push(spin.copy(u).multiplyScalar(Math.cos(t)).addScaledVector(w, Math.sin(t)).clone());
      }
      for (let k = 0; k < sides; k++) {
        for (const [end, s] of [[a, k], [b, k], [b, k + 1], [a, k], [b, k + 1], [a, k + 1]]) {
          position.push(end.x + ring[s].x * r, end.y + ring[s].y * r, end.z + ring[s].z * r);
          normal.push(ring[s].x, ring[s].y, ring[s].z);
        }
      }
    };
    let left = 0, number = 0;
    for (let k = 1; k < loop.length; k++) {
      put(loop[k - 1], loop[k], radius);
      const p = new T.Vector3(...loop[k - 1]), q = new T.Vector3(...loop[k]), length = p.distanceTo(q);
      for (; left < length; left += 10, number++) {
        const m = p.clone().lerp(q, left / length), tall = radius * (number % 5 ? 2 : 3.6);
        put([m.x, m.y, m.z - tall], [m.x, m.y, m.z + tall], radius * 0.45);
      }
      left -= length;
    }
    const made = new T.BufferGeometry();
    made.setAttribute('position', new T.BufferAttribute(new Float32Array(position), 3));
    made.setAttribute('normal', new T.BufferAttribute(new Float32Array(normal), 3));
    return made;
  }

  // Small pictures with letters, drawn again once the page's typeface has been read.
  const drawings = [];
  function sprite(render, order) {
    const tile = document.createElement('canvas'), map = new T.CanvasTexture(tile);
    map.colorSpace = T.SRGBColorSpace;
    const made = new T.Sprite(new T.SpriteMaterial({ map, depthTest: false }));
    made.renderOrder = order;
    const drawing = () => {
      render(tile, tile.getContext('2d'));
      map.dispose();
      map.needsUpdate = true;
    };
    drawing();
    drawings.push(drawing);
    return made;
  }
  const TYPE = '"Atkinson Hyperlegible Next", sans-serif';
  function lettered(text) {
    return sprite((tile, pen) => {
      tile.width = tile.height = 128;
      pen.fillStyle = '#fff'; pen.strokeStyle = '#2A3036'; pen.lineWidth = 8;
      pen.beginPath(); pen.arc(64, 64, 56, 0, 7); pen.fill(); pen.stroke();
      pen.fillStyle = '#2A3036'; pen.font = `700 76px ${TYPE}`;
      pen.textAlign = 'center'; pen.textBaseline = 'middle'; pen.fillText(text, 64, 69);
    }, 9);
  }

  const whole = new T.Box3();
  function add(mesh, cutColour, lean, edgeColour) {
    const group = new T.Group(), { made: form, points } = geometry(mesh);
    group.add(new T.Mesh(form, body(cutColour, lean)));
    const edges = new T.LineSegments(creases(mesh), new T.LineBasicMaterial({ color: linear(edgeColour), transparent: true, opacity: 0.55 }));
    group.add(edges);
    form.computeBoundingBox();
    whole.union(form.boundingBox);
    scene.add(group);
    return { group, edges, points, box: form.boundingBox.clone() };
  }

  for (const [k, piece] of told.pieces.entries()) {
    const part = add(piece, piece.cut, k % 2 ? -1 : 1, '#3A3C3E');
    part.pull = new T.Vector3(...piece.pull).normalize();
    const half = part.box.getSize(new T.Vector3()).multiplyScalar(0.5);
    part.letter = lettered(piece.id);
    part.letter.position.copy(part.box.getCenter(new T.Vector3())).addScaledVector(part.pull, Math.abs(half.dot(part.pull)) * 0.98);
    part.group.add(part.letter);
    parts.push(part);
  }
  const model = add(told.model, '#CFC8BA', 1, '#55524C');
  const seam = new T.Group();
  model.group.add(seam);
  for (const loop of told.seam) {
    seam.add(new T.Mesh(tube(loop, size * 0.006), new T.MeshBasicMaterial({ color: linear(told.line), clippingPlanes: [plane] })));
  }

  // A flag with words, drawn over everything; it keeps its size on the screen.
  const flags = [];
  function flag(text, at, group, look) {
    const one = { tall: 20, wide: 20, out: look.out };
    one.sprite = sprite((tile, pen) => {
      const font = `700 44px ${TYPE}`;
      pen.font = font;
      tile.width = Math.ceil(pen.measureText(text).width) + 36;
      tile.height = 68;
      pen.font = font;
      pen.fillStyle = look.ground; pen.strokeStyle = '#2A3036'; pen.lineWidth = 5;
      pen.fillRect(3, 3, tile.width - 6, 62); pen.strokeRect(3, 3, tile.width - 6, 62);
      pen.fillStyle = look.ink; pen.textBaseline = 'middle'; pen.textAlign = 'center'; pen.fillText(text, tile.width / 2, 37);
      one.wide = one.tall * tile.width / tile.height;
    }, 10);
    one.sprite.position.fromArray(at);
    one.sprite.visible = false;
    group.add(one.sprite);
    flags.push(one);
    return one.sprite;
  }
  function ringed() {
    const ring = sprite((tile, pen) => {
      tile.width = tile.height = 128;
      for (const [colour, width] of [['#FFFFFF', 26], ['#A8481F', 14]]) {
        pen.strokeStyle = colour; pen.lineWidth = width;
        pen.beginPath(); pen.arc(64, 64, 48, 0, 7); pen.stroke();
      }
    }, 11);
    flags.push({ sprite: ring, tall: 46, wide: 46 });
    return ring;
  }
  // The bodies whose surface a place lies on; the model stands for a place inside the plaster.
  function bodiesAt(at) {
    const near = (0.02 * size) ** 2;
    const on = [model, ...parts].filter(({ points }) => {
      for (let k = 0; k < points.length; k += 3) if ((points[k] - at[0]) ** 2 + (points[k + 1] - at[1]) ** 2 + (points[k + 2] - at[2]) ** 2 < near) return true;
      return false;
    });
    return on.length ? on : [model];
  }
  const extremes = [];
  if (wall) {
    const outward = (at) => new T.Vector3(...at).sub(model.box.getCenter(new T.Vector3())).normalize();
    for (const body of bodiesAt(wall.thin).slice(0, 2)) extremes.push(flag(`${wall.thin_says} thinnest`, wall.thin, body.group, { ground: '#2A3036', ink: '#FFFFFF', out: outward(wall.thin) }));
    extremes.push(flag(`${wall.thick_says} thickest`, wall.thick, model.group, { ground: '#FFFFFF', ink: '#2A3036', out: outward(wall.thick) }));
  }
  const stations = (told.heights || []).map((one) => {
    const out = new T.Vector3(...one.out, 0).normalize();
    return { out, sprite: flag(`${one.number} · ${one.says}`, one.at, model.group, { ground: '#FFFFFF', ink: '#2A3036', out }) };
  });
  const ticked = (id) => { const box = document.getElementById(id); return Boolean(box && box.checked); };

  const controls = new T.OrbitControls(camera, canvas);
  controls.enableDamping = false;
  const middle = whole.getCenter(new T.Vector3()), spread = whole.clone();
  const looks = { start: [-0.52, -0.9, 0.46], front: [0, -1, 0.0001], side: [1, 0, 0.0001], top: [0, -0.0001, 1], below: [-0.4, -0.7, -0.7] };
  // Side pieces stand away from the eye where they can, so that none hides the object it has left.
  if (parts.length > 2) {
    const inTheWay = ([x, y]) => parts.reduce((sum, { pull }) => sum + Math.max(0, pull.x * x + pull.y * y) * (1 - Math.abs(pull.z)), 0);
    const [x, y, z] = looks.start;
    looks.start = [[x, y, z], [x, -y, z], [-x, y, z], [-x, -y, z]].reduce((best, one) => (inTheWay(one) < inTheWay(best) - 1e-6 ? one : best));
  }
  // The pieces, but for `own`, that the box of each says may lie between a place and the eye.
  function before(place, eye, own) {
    return parts.filter((part) => {
      if (part === own || !part.group.visible) return false;
      const box = part.box.clone().translate(part.group.position);
      let near = 0, far = Infinity;
      for (const side of ['x', 'y', 'z']) {
        const way = Math.abs(eye[side]) < 1e-9 ? 1e-9 : eye[side];
        const a = (box.min[side] - place[side]) / way, b = (box.max[side] - place[side]) / way;
        near = Math.max(near, Math.min(a, b));
        far = Math.min(far, Math.max(a, b));
      }
      return near < far;
    });
  }

  let asked = false;
  function draw() {
    asked = false;
    const eye = camera.position.clone().sub(controls.target).normalize();
    const right = new T.Vector3().crossVectors(camera.up, eye).normalize();
    sun.target.position.copy(controls.target);
    sun.position.copy(controls.target).addScaledVector(eye, size).addScaledVector(right, -0.7 * size).add(new T.Vector3(0, 0, 0.6 * size));
    // Letters keep their size on the screen whatever the distance.
    const px = (camera.top - camera.bottom) / camera.zoom / (canvas.clientHeight || 1);
    for (const part of parts) {
      part.letter.scale.setScalar(30 * px);
      // A letter whose piece stands behind another is pale, so that it does not name that other one.
      const behind = parts.length > 2 && before(part.letter.position.clone().add(part.group.position), eye, part).length > 0;
      part.letter.material.opacity = behind ? 0.35 : 1;
    }
    // A flag stands off its place, away from the object as it is seen, so that flags do not hide it.
    const up = new T.Vector3().crossVectors(eye, right);
    for (const one of flags) {
      one.sprite.scale.set(one.wide * px, one.tall * px, 1);
      if (one.out) one.sprite.center.set(0.5 - 0.62 * one.out.dot(right), 0.5 - 0.9 * one.out.dot(up));
    }
    // Of the stations those on the near side of the seam, so that no flag stands for two places.
    for (const one of stations) one.sprite.visible = ticked('heights') && (Math.abs(eye.z) > 0.85 || one.out.dot(eye) > 0.05);
    renderer.render(scene, camera);
    canvas.dataset.drawn = String(1 + Number(canvas.dataset.drawn || 0));
  }
  function invalidate() {
    if (!asked) { asked = true; requestAnimationFrame(draw); }
  }

  // How far a piece stands off when the slider is at `way` of the block's reach along its pull.
  function apartBy({ pull }, way) {
    const reach = whole.getSize(new T.Vector3());
    const step = Math.abs(reach.x * pull.x) + Math.abs(reach.y * pull.y) + Math.abs(reach.z * pull.z);
    return pull.clone().multiplyScalar(step * way);
  }

  function fit() {
    const w = canvas.parentElement.clientWidth, h = canvas.parentElement.clientHeight;
    if (!w || !h) return;
    renderer.setSize(w, h, false);
    // The room needed from the start view when the pieces are apart, so that the slider never pushes one out of
    // the picture, one that leaves aslant neither.
    const boxes = [model.box, ...parts.map((part) => part.box.clone().translate(apartBy(part, FULLY_APART)))];
    const all = boxes.reduce((sum, box) => sum.union(box), new T.Box3());
    const mid = all.getCenter(new T.Vector3());
    const eye = new T.Vector3(...looks.start).normalize(), right = new T.Vector3().crossVectors(camera.up, eye).normalize();
    const up = new T.Vector3().crossVectors(eye, right);
    let half = 0;
    for (const box of boxes) for (let k = 0; k < 8; k += 1) {
      const off = new T.Vector3(...['x', 'y', 'z'].map((side, bit) => box[k >> bit & 1 ? 'max' : 'min'][side])).sub(mid);
      half = Math.max(half, 1.06 * Math.abs(off.dot(up)), 1.06 * Math.abs(off.dot(right)) * h / w);
    }
    camera.top = half; camera.bottom = -half; camera.left = -half * w / h; camera.right = half * w / h;
    camera.updateProjectionMatrix();
    invalidate();
  }

  function look(name) {
    spread.getCenter(middle);
    controls.target.copy(middle);
    camera.zoom = 1;
    camera.position.copy(middle).add(new T.Vector3(...looks[name]).normalize().multiplyScalar(4 * size));
    camera.updateProjectionMatrix();
    controls.update();
    invalidate();
  }

  const apart = document.getElementById('apart'), cut = document.getElementById('cut'), across = document.getElementById('across');
  function arrange() {
    const way = apart.value / 100 * FULLY_APART;
    spread.copy(model.box);
    for (const part of parts) {
      part.group.position.copy(apartBy(part, way));
      spread.union(part.box.clone().translate(part.group.position));
    }
    // A cut face is drawn on what lies behind it, so lines there would show through: leave them out while cutting.
    seam.visible = across.value === '';
    for (const part of [...parts, model]) part.edges.visible = across.value === '';
    cut.disabled = across.value === '';
    if (across.value === '') {
      plane.normal.set(0, 0, -1);
      plane.constant = 1e9;
    } else {
      const axis = ['x', 'y', 'z'][+across.value], from = spread.min[axis], to = spread.max[axis], t = cut.value / 100;
      // Left to right and front to back take the near side away, so that the cut is seen from the start view.
      const sign = axis === 'z' ? -1 : -Math.sign(looks.start['xy'.indexOf(axis)]);
      plane.normal.set(0, 0, 0);
      plane.normal[axis] = sign;
      plane.constant = -sign * (sign > 0 ? from + (to - from) * t : to - (to - from) * t);
    }
    invalidate();
  }

  // Light a place: a ring on every body that it lies on, and the camera before it.
  const lit = document.getElementById('lit'), rings = [], aside = [];
  function dim() {
    for (const part of aside.splice(0)) shown(part, true);
    for (const ring of rings.splice(0)) {
      ring.removeFromParent();
      flags.splice(flags.findIndex((one) => one.sprite === ring), 1);
    }
    lit.hidden = true;
    invalidate();
  }
  function shown(body, whether) {
    body.group.visible = whether;
    const box = document.querySelector(`[data-part="${body === model ? 'model' : parts.indexOf(body)}"]`);
    if (box) box.checked = whether;
  }
  function light(at, says, bodies) {
    dim();
    for (const body of bodies) {
      shown(body, true);
      const ring = ringed();
      ring.position.fromArray(at);
      body.group.add(ring);
      rings.push(ring);
    }
    lit.firstElementChild.textContent = says;
    lit.hidden = false;
    const first = bodies[0], closed = whole.getCenter(new T.Vector3());
    const target = new T.Vector3(...at).add(first.group.position), out = new T.Vector3(...at).sub(closed);
    out.z = 0;
    if (out.lengthSq() < 1e-6) out.set(-0.52, -0.9, 0);
    out.normalize();
    out.z = first.pull && Math.abs(first.pull.z) > 0.5 && bodies.length > 1 ? -0.6 * Math.sign(first.pull.z) : 0.35;
    out.normalize();
    if (parts.length > 2 && apart.value > 0) {
      // A side piece left the way one would look: what hides the place goes out of sight until the mark does.
      aside.push(...before(target.clone().addScaledVector(out, 0.01 * size), out, first));
      for (const part of aside) shown(part, false);
    }
    controls.target.copy(target);
    camera.position.copy(target).addScaledVector(out, 4 * size);
    camera.zoom = 1.7;
    camera.updateProjectionMatrix();
    controls.update();
    invalidate();
    canvas.dataset.lit = at.join(',');
  }
  function lightPiece(letter, says) {
    const k = told.pieces.findIndex((piece) => piece.id === letter);
    if (k >= 0) light(parts[k].letter.position.toArray(), says, [parts[k]]);
  }
  for (const button of document.querySelectorAll('.place')) {
    button.addEventListener('click', () => {
      if (button.dataset.piece) lightPiece(button.dataset.piece, button.dataset.says);
      else { const at = button.dataset.at.split(',').map(Number); light(at, button.dataset.says, bodiesAt(at)); }
      canvas.scrollIntoView({ block: 'nearest' });
    });
  }
  document.getElementById('unlit').addEventListener('click', () => { dim(); look('start'); });
  function showMarks() {
    for (const id of ['wall', 'heights']) { const legend = document.getElementById(`${id}-legend`); if (legend) legend.hidden = !ticked(id); }
    thickness.wallOn.value = ticked('wall') ? 1 : 0;
    for (const one of extremes) one.visible = ticked('wall');
    invalidate();
  }
  // Both are about the object's surface, so the camera comes near to it; heights are read off from above.
  function marked(id) {
    showMarks();
    if (id === 'heights') {
      // What lies over the seam is taken out of sight, and comes back afterwards.
      for (const [k, part] of parts.entries()) {
        if (part.pull.z < 0.5) continue;
        document.querySelector(`[data-part="${k}"]`).checked = part.group.visible = !ticked(id);
      }
    }
    if (!ticked(id)) { look('start'); return; }
    look(id === 'heights' ? 'top' : 'start');
    controls.target.copy(model.box.getCenter(new T.Vector3()));
    const reach = model.box.getSize(new T.Vector3()), w = camera.right - camera.left, h = camera.top - camera.bottom;
    camera.position.copy(controls.target).add(new T.Vector3(...looks[id === 'heights' ? 'top' : 'start']).normalize().multiplyScalar(4 * size));
    camera.zoom = id === 'heights' ? Math.max(1, 0.8 * Math.min(h / reach.y, w / reach.x)) : Math.max(1, 0.62 * Math.min(h / Math.hypot(reach.y, 0.5 * reach.z), w / Math.hypot(reach.x, 0.5 * reach.y)));
    camera.updateProjectionMatrix();
    controls.update();
  }
  for (const id of ['wall', 'heights']) { const box = document.getElementById(id); if (box) box.addEventListener('change', () => marked(id)); }
  // The page that this stands in may light a place, show a mark, and say how bright the bench is.
  window.addEventListener('message', ({ source, data }) => {
    if (!framed || source !== window.parent || !data) return;
    const says = String(data.says || '').slice(0, 400);
    if (data.claybed === 'place' && Array.isArray(data.at) && data.at.length === 3 && data.at.every(Number.isFinite)) light(data.at, says, bodiesAt(data.at));
    if (data.claybed === 'piece') lightPiece(String(data.piece), says);
    if (data.claybed === 'mark') { const box = document.getElementById(data.what === 'wall' ? 'wall' : 'heights'); if (box) { box.checked = true; marked(box.id); } }
    if (data.claybed === 'bench') { root.dataset.bench = data.dark ? 'dark' : 'light'; paint(); }
  });
  if (framed) window.parent.postMessage({ claybed: 'ready', wall: Boolean(wall), heights: stations.length > 0 }, '*');

  apart.addEventListener('input', arrange);
  cut.addEventListener('input', arrange);
  across.addEventListener('change', arrange);
  controls.addEventListener('change', invalidate);
  for (const box of document.querySelectorAll('[data-part]')) {
    box.addEventListener('change', () => {
      const part = box.dataset.part === 'model' ? model : parts[+box.dataset.part];
      part.group.visible = box.checked;
      invalidate();
    });
  }
  for (const button of document.querySelectorAll('[data-look]')) button.addEventListener('click', () => look(button.dataset.look));
  canvas.addEventListener('keydown', (event) => {
    const turns = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
    if (turns) {
      const arm = camera.position.clone().sub(controls.target);
      const round = Math.atan2(arm.y, arm.x) + turns[0] * 0.12;
      const rise = Math.min(3.1, Math.max(0.04, Math.acos(arm.z / arm.length()) + turns[1] * 0.12));
      arm.set(Math.sin(rise) * Math.cos(round), Math.sin(rise) * Math.sin(round), Math.cos(rise)).multiplyScalar(arm.length() || 1);
      camera.position.copy(controls.target).add(arm.normalize().multiplyScalar(4 * size));
      controls.update();
    } else if (event.key === '+' || event.key === '=' || event.key === '-') {
      camera.zoom = Math.min(20, Math.max(0.3, camera.zoom * (event.key === '-' ? 1 / 1.15 : 1.15)));
      camera.updateProjectionMatrix();
    } else if (event.key === '0') look('start');
    else if (event.key === 'Escape') dim();
    else return;
    event.preventDefault();
    invalidate();
  });

  const bench = document.getElementById('bench');
  const dark = window.matchMedia('(prefers-color-scheme: dark)');
  function paint() {
    const isDark = root.dataset.bench ? root.dataset.bench === 'dark' : dark.matches;
    bench.textContent = isDark ? 'Light bench' : 'Dark bench';
    renderer.setClearColor(linear(getComputedStyle(root).getPropertyValue('--sheet').trim()), 1);
    invalidate();
  }
  bench.addEventListener('click', () => {
    const isDark = root.dataset.bench ? root.dataset.bench === 'dark' : dark.matches;
    root.dataset.bench = isDark ? 'light' : 'dark';
    paint();
  });
  dark.addEventListener('change', paint);
  new ResizeObserver(fit).observe(canvas.parentElement);
  document.fonts.load(`700 44px ${TYPE}`).then(() => { for (const drawing of drawings) drawing(); invalidate(); }).catch(() => {});
  fit();
  arrange();
  look('start');
  paint();
})();
