// The body to be looked through: turn it, come closer, cut it open, pick a cut.
import * as THREE from "./three/three.min.js";

let shown = null;

const MM = 0.001; // the mesh is in metres: x towards the tail, y up out of the top, z to the other side than the plan's y
const SQUARE = { top: [0, 1, 0.0001], back: [0, -1, 0.0001], neck: [-1, 0, 0], tail: [1, 0, 0], slant: [-0.45, 0.75, 0.75] };
const NORMALS = { x: [1, 0, 0], y: [0, 1, 0], z: [0, 0, 1] };
const ACROSS = { x: ["z", "y"], y: ["x", "z"], z: ["x", "y"] }; // what runs along and up in a section
const PITCH = 4 * MM; // between the lines of a hatch
const BESIDE = 0.15 * MM; // the lines of a section lie so far before it, or the wood would hide them
const PICKED = 0xffbf00;
const FIELD = 8; // of the camera, degrees: so little that a straight view shows no walls

// Where a plane cuts a closed mesh: pairs of points, in the plane's own two coordinates.
function cutBy(geometry, axis, at) {
  const places = geometry.getAttribute("position");
  const corners = geometry.index.array;
  const [along, up] = ACROSS[axis];
  const get = { x: "getX", y: "getY", z: "getZ" };
  const of = (name) => Float64Array.from({ length: places.count }, (_, n) => places[get[name]](n));
  const far = of(axis).map((value) => value - at || 1e-9);
  const [u, v] = [of(along), of(up)];
  const pairs = [];
  for (let n = 0; n < corners.length; n += 3) {
    const ends = [];
    for (const [k, m] of [[0, 1], [1, 2], [2, 0]]) {
      const [a, b] = [corners[n + k], corners[n + m]];
      if (far[a] > 0 === far[b] > 0) continue;
      const share = far[a] / (far[a] - far[b]);
      ends.push(u[a] + share * (u[b] - u[a]), v[a] + share * (v[b] - v[a]));
    }
    if (ends.length === 4) pairs.push(ends);
  }
  return pairs;
}

// Lines at an angle inside the loops that the pairs make: what lies between the first and the second crossing is wood, and so on.
function hatched(pairs, degrees) {
  const [cos, sin] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  const lines = new Map();
  for (const [u1, v1, u2, v2] of pairs) {
    const [p1, q1, p2, q2] = [u1 * cos + v1 * sin, v1 * cos - u1 * sin, u2 * cos + v2 * sin, v2 * cos - u2 * sin];
    for (let n = Math.ceil(Math.min(q1, q2) / PITCH); n * PITCH < Math.max(q1, q2); n += 1) {
      const p = p1 + ((n * PITCH - q1) / (q2 - q1)) * (p2 - p1);
      if (lines.has(n)) lines.get(n).push(p);
      else lines.set(n, [p]);
    }
  }
  const found = [];
  for (const [n, crossings] of lines) {
    crossings.sort((a, b) => a - b);
    for (let k = 0; k + 1 < crossings.length; k += 2) {
      const [q, a, b] = [n * PITCH, crossings[k], crossings[k + 1]];
      found.push([a * cos - q * sin, a * sin + q * cos, b * cos - q * sin, b * sin + q * cos]);
    }
  }
  return found;
}

// The wood inside the loops as triangles: between two neighbouring corners' heights no loop turns, so each band is trapeziums.
function filled(pairs) {
  const even = (value) => Math.round(value * 1e8) / 1e8;
  const heights = [...new Set(pairs.flatMap(([, v1, , v2]) => [even(v1), even(v2)]))].sort((a, b) => a - b);
  const place = new Map(heights.map((v, n) => [v, n]));
  const bands = heights.map(() => []);
  for (const [u1, v1, u2, v2] of pairs) {
    const [a, b] = [place.get(even(v1)), place.get(even(v2))];
    const at = (n) => u1 + ((heights[n] - even(v1)) / (even(v2) - even(v1))) * (u2 - u1);
    for (let n = Math.min(a, b); n < Math.max(a, b); n += 1) bands[n].push([at(n), at(n + 1)]);
  }
  const found = [];
  for (const [n, sides] of bands.entries()) {
    sides.sort((a, b) => a[0] + a[1] - b[0] - b[1]);
    for (let k = 0; k + 1 < sides.length; k += 2) {
      const [[a, b], [c, d], low, high] = [sides[k], sides[k + 1], heights[n], heights[n + 1]];
      found.push([a, low], [c, low], [d, high], [a, low], [d, high], [b, high]);
    }
  }
  return found;
}

function show(frame) {
  const says = document.getElementById("scene-says");
  let renderer;
  try {
    renderer = new THREE.WebGLRenderer({ antialias: true, alpha: true, preserveDrawingBuffer: true });
  } catch {
    says.textContent = "This browser cannot draw in three dimensions. The plan and the sections on the sheets show the same.";
    return null;
  }
  frame.append(renderer.domElement);
  renderer.domElement.setAttribute("aria-hidden", "true");
  renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
  renderer.localClippingEnabled = true;
  const scene = new THREE.Scene();
  scene.add(new THREE.HemisphereLight(0xffffff, 0x999999, 2.2));
  const sun = new THREE.DirectionalLight(0xffffff, 1.6);
  sun.position.set(-1, 2, 1.5);
  scene.add(sun);
  const camera = new THREE.PerspectiveCamera(FIELD, 1, 0.3, 60);
  const controls = new THREE.OrbitControls(camera, renderer.domElement);
  controls.minDistance = 0.6;
  controls.maxDistance = 40;
  const tones = frame.dataset.wood.split(" ");
  const hatches = frame.dataset.hatches.split(" ").map(Number);
  const treble = Number(frame.dataset.treble);
  const ways = { ...SQUARE, bass: [0, 0, treble], treble: [0, 0, -treble] };
  const cuts = new Map();
  const woods = []; // { mesh, cap, edges, lines, angle }
  const box = new THREE.Box3();
  const body = new THREE.Box3();
  const middle = new THREE.Vector3();
  const plane = new THREE.Plane();
  const cut = { axis: "", at: 0, keeps: 1 };
  let solid = 30;

  const draw = () => renderer.render(scene, camera);
  const fit = () => {
    const { clientWidth: wide, clientHeight: tall } = frame;
    renderer.setSize(wide, tall, false);
    camera.aspect = wide / tall;
    camera.updateProjectionMatrix();
    draw();
  };
  const pressed = (way) => {
    for (const each of document.querySelectorAll("button[data-way]")) each.setAttribute("aria-pressed", String(each.dataset.way === way));
  };
  const look = (way) => {
    const from = new THREE.Vector3(...ways[way]).normalize();
    controls.target.copy(middle);
    camera.position.copy(middle).add(from);
    camera.lookAt(middle);
    camera.updateMatrixWorld();
    const [right, up] = [0, 1].map((n) => new THREE.Vector3().setFromMatrixColumn(camera.matrixWorld, n));
    const half = box.getSize(new THREE.Vector3()).multiplyScalar(0.5);
    const reach = (way) => half.x * Math.abs(way.x) + half.y * Math.abs(way.y) + half.z * Math.abs(way.z);
    const far = Math.max(reach(up), reach(right) / camera.aspect) / Math.tan((FIELD * Math.PI) / 360);
    camera.position.copy(middle).addScaledVector(from, 1.02 * far + reach(from));
    controls.update();
    pressed(way);
    draw();
  };

  // The section

  const meets = (mesh) => {
    const own = new THREE.Box3().setFromObject(mesh);
    return own.min[cut.axis] < cut.at && cut.at < own.max[cut.axis] && cutBy(mesh.geometry, cut.axis, cut.at).length > 0;
  };
  const length = (mm) => {
    const both = [`${mm.toFixed(1)} mm`, `${(mm / 25.4).toFixed(3)} in`];
    if (frame.dataset.units !== "mm") both.reverse();
    return both;
  };
  const tell = () => {
    const from = { x: body.max.x - cut.at, y: -cut.at, z: Math.abs(cut.at) }[cut.axis] / MM;
    const words = {
      x: "from the tail end",
      y: from < 0 ? "above the top at the bridge" : "below the top at the bridge",
      z: from < 0.05 ? "off the centreline" : `from the centreline, to the ${-cut.at * treble > 0 ? "treble" : "bass"}`,
    }[cut.axis];
    const [first, second] = length(Math.abs(from));
    document.getElementById("where-big").textContent = first;
    document.getElementById("where-words").textContent = `(${second}) ${words}`;
    document.getElementById("where").setAttribute("aria-valuetext", `${first} ${words}`);
    const named = [...cuts].filter(([, mesh]) => meets(mesh)).map(([id]) => document.querySelector(`button[data-cut="${CSS.escape(id)}"] b`)?.textContent ?? id);
    document.getElementById("meets").textContent = named.length ? `It goes through ${named.join(", ")}.` : "It goes through no cut.";
  };
  const lay = (each) => {
    const { axis, at, keeps } = cut;
    const [along, up] = ACROSS[axis];
    const pairs = cutBy(each.mesh.geometry, axis, at);
    const lines = [...pairs, ...hatched(pairs, each.angle)].flatMap(([u1, v1, u2, v2]) => [[u1, v1], [u2, v2]]);
    const laid = (shape, points, off) => {
      const places = new Float32Array(3 * points.length);
      const [i, j, k] = [along, up, axis].map((name) => "xyz".indexOf(name));
      points.forEach(([u, v], n) => {
        places[3 * n + i] = u;
        places[3 * n + j] = v;
        places[3 * n + k] = at - keeps * off;
      });
      shape.geometry.dispose();
      shape.geometry = new THREE.BufferGeometry().setAttribute("position", new THREE.Float32BufferAttribute(places, 3));
    };
    laid(each.lines, lines, BESIDE);
    const wood = filled(pairs);
    laid(each.cap, wood, BESIDE / 3);
    each.area = 0; // mm²
    for (let n = 0; n < wood.length; n += 3) {
      const [a, b, c] = wood.slice(n, n + 3);
      each.area += ((b[0] - a[0]) * (c[1] - a[1]) - (c[0] - a[0]) * (b[1] - a[1])) / 2 / MM ** 2;
    }
  };
  const dress = () => {
    const open = cut.axis !== "";
    const planes = open ? [plane] : [];
    for (const each of woods) {
      const { material } = each.mesh;
      each.mesh.visible = solid > 0;
      material.opacity = solid / 100;
      material.transparent = solid < 100;
      material.depthWrite = solid >= 100;
      material.side = THREE.FrontSide;
      material.clippingPlanes = each.edges.material.clippingPlanes = planes;
      material.needsUpdate = true;
      each.cap.visible = open && solid >= 100;
      each.lines.visible = open;
    }
    for (const mesh of cuts.values()) mesh.material.clippingPlanes = planes;
  };
  const through = () => {
    if (cut.axis) {
      plane.normal.set(...NORMALS[cut.axis]).multiplyScalar(cut.keeps);
      plane.constant = -cut.keeps * cut.at;
      woods.forEach(lay);
      tell();
    }
    frame.dataset.section = cut.axis && `${cut.axis} ${(cut.at / MM).toFixed(1)}`;
    frame.dataset.cutWood = cut.axis && woods.map((each) => each.area.toFixed(1)).join(" ");
    draw();
  };
  const slide = (mm) => {
    cut.at = mm * MM + 1e-7; // never in a face of the wood
    through();
  };
  const open = (axis) => {
    const slider = document.getElementById("where");
    document.getElementById("plane").hidden = !axis;
    cut.axis = axis;
    if (axis) {
      slider.min = Math.ceil((body.min[axis] / MM) * 2) / 2;
      slider.max = Math.floor((body.max[axis] / MM) * 2) / 2;
      const picked = document.querySelector('button[data-cut][aria-pressed="true"]')?.dataset.cut;
      slider.value = (placeOf(picked) ?? (body.min[axis] + body.max[axis]) / 2) / MM;
      cut.keeps = camera.position[axis] > middle[axis] ? -1 : 1; // what is before the eye goes
      solid = 100;
    } else solid = 30;
    const clear = document.getElementById("clear");
    clear.value = solid;
    clear.setAttribute("aria-valuetext", `${solid} percent solid`);
    dress();
    slide(Number(slider.value));
  };
  const placeOf = (id) => {
    const mesh = cuts.get(id);
    return mesh && cut.axis ? new THREE.Box3().setFromObject(mesh).getCenter(new THREE.Vector3())[cut.axis] : null;
  };

  const pick = (id) => {
    for (const [name, mesh] of cuts) {
      mesh.material.color.copy(name === id ? new THREE.Color(PICKED) : mesh.userData.own);
      mesh.material.emissive.set(name === id ? 0x664400 : 0);
      mesh.material.opacity = name === id ? 1 : 0.62;
    }
    for (const button of document.querySelectorAll("button[data-cut]")) {
      button.setAttribute("aria-pressed", String(button.dataset.cut === id));
    }
    const at = placeOf(id);
    if (at === null) draw();
    else {
      document.getElementById("where").value = at / MM;
      slide(at / MM);
    }
  };
  const clear = (percent) => {
    solid = percent;
    document.getElementById("clear").setAttribute("aria-valuetext", `${percent} percent solid`);
    dress();
    draw();
  };
  const only = () => {
    const off = new Set([...document.querySelectorAll("input[data-from]:not(:checked)")].map((each) => each.dataset.from));
    for (const [id, mesh] of cuts) {
      mesh.visible = !off.has(document.querySelector(`button[data-cut="${CSS.escape(id)}"]`)?.dataset.face);
    }
    draw();
  };
  const flip = () => {
    cut.keeps *= -1;
    through();
  };

  controls.addEventListener("change", draw);
  controls.addEventListener("start", () => pressed(""));
  new ResizeObserver(fit).observe(frame);
  frame.addEventListener("keydown", (event) => {
    const offset = new THREE.Spherical().setFromVector3(camera.position.clone().sub(controls.target));
    const act = {
      ArrowLeft: () => { offset.theta -= 0.15; }, ArrowRight: () => { offset.theta += 0.15; },
      ArrowUp: () => { offset.phi -= 0.15; }, ArrowDown: () => { offset.phi += 0.15; },
      "+": () => { offset.radius /= 1.2; }, "=": () => { offset.radius /= 1.2; }, "-": () => { offset.radius *= 1.2; },
    }[event.key];
    if (!act) return;
    event.preventDefault();
    act();
    offset.makeSafe();
    camera.position.copy(controls.target).add(new THREE.Vector3().setFromSpherical(offset));
    controls.update();
    pressed("");
    draw();
  });

  const addWood = (mesh, number) => {
    const tone = tones[number] ?? "#c9a877";
    mesh.material = new THREE.MeshStandardMaterial({ color: tone, roughness: 0.85, metalness: 0, flatShading: true });
    mesh.renderOrder = 2;
    const cap = new THREE.Mesh(new THREE.BufferGeometry(), new THREE.MeshBasicMaterial({ color: tone, side: THREE.DoubleSide }));
    const edges = new THREE.LineSegments(new THREE.EdgesGeometry(mesh.geometry, 40), new THREE.LineBasicMaterial({ color: 0x777777 }));
    const lines = new THREE.LineSegments(new THREE.BufferGeometry(), new THREE.LineBasicMaterial({ color: 0x111111 }));
    scene.add(cap, edges, lines);
    woods.push({ mesh, cap, edges, lines, angle: hatches[number] ?? 75 });
    if (number in tones) body.expandByObject(mesh);
  };
  const addCut = (mesh) => {
    mesh.material = new THREE.MeshStandardMaterial({
      color: mesh.material.color, roughness: 0.85, metalness: 0, flatShading: true, transparent: true, opacity: 0.62,
      side: THREE.DoubleSide, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1, depthWrite: false,
    });
    mesh.userData.own = mesh.material.color.clone();
    cuts.set(mesh.name, mesh);
  };

  new THREE.GLTFLoader().load(frame.dataset.mesh, ({ scene: made }) => {
    box.setFromObject(made);
    box.getCenter(middle);
    const meshes = [];
    made.traverse((each) => { if (each.isMesh) meshes.push(each); });
    for (const each of meshes) {
      if (each.name.startsWith("=")) addWood(each, each.name.slice(1));
      else addCut(each);
    }
    scene.add(made);
    says.remove();
    solid = Number(document.getElementById("clear").value);
    dress();
    only();
    fit();
    look("slant");
    frame.dataset.drawn = String(cuts.size);
    frame.dataset.layers = String(woods.length);
    const chosen = document.querySelector('input[name="through"]:checked'); // a browser may keep it over a reload
    if (chosen.value) open(chosen.value);
  }, undefined, () => { says.textContent = "The body could not be loaded; load the page again."; });
  return { look, pick, clear, open, slide, flip, only };
}

document.addEventListener("click", (event) => {
  const way = event.target.closest("button[data-way]");
  if (way) shown?.look(way.dataset.way);
  const cut = event.target.closest("button[data-cut]");
  if (cut) shown?.pick(cut.getAttribute("aria-pressed") === "true" ? "" : cut.dataset.cut);
  if (event.target.closest("#flip")) shown?.flip();
});
document.addEventListener("input", ({ target }) => {
  if (target.id === "clear") shown?.clear(Number(target.value));
  if (target.id === "where") shown?.slide(Number(target.value));
  if (target.name === "through") shown?.open(target.value);
  if (target.dataset.from) shown?.only();
});

function prepare() {
  const frame = document.getElementById("scene");
  if (frame && !frame.querySelector("canvas")) shown = show(frame);
}

document.addEventListener("htmx:after:swap", prepare);
prepare();
