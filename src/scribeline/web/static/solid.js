// The body to be looked through: turn it, come closer, pick a cut.
import * as THREE from "./three/three.min.js";

let shown = null;

const WAYS = { top: [0, 1, 0.0001], back: [0, -1, 0.0001], side: [0, 0.12, 1], slant: [-0.45, 0.75, 0.75] };

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
  const scene = new THREE.Scene();
  scene.add(new THREE.HemisphereLight(0xffffff, 0x999999, 2.2));
  const sun = new THREE.DirectionalLight(0xffffff, 1.6);
  sun.position.set(-1, 2, 1.5);
  scene.add(sun);
  const camera = new THREE.PerspectiveCamera(30, 1, 0.01, 20);
  const controls = new THREE.OrbitControls(camera, renderer.domElement);
  const cuts = new Map();
  const middle = new THREE.Vector3();
  let reach = 1;
  let wood = null;

  const draw = () => renderer.render(scene, camera);
  const fit = () => {
    const { clientWidth: wide, clientHeight: tall } = frame;
    renderer.setSize(wide, tall, false);
    camera.aspect = wide / tall;
    camera.updateProjectionMatrix();
    draw();
  };
  const look = (way) => {
    // A body is longer than it is wide: in a wide frame its width decides, in a narrow one its length.
    const far = (reach / Math.tan((camera.fov * Math.PI) / 360)) * Math.max(0.78, 1.02 / camera.aspect);
    camera.position.copy(middle).addScaledVector(new THREE.Vector3(...WAYS[way]).normalize(), far);
    controls.target.copy(middle);
    controls.update();
    draw();
  };
  const pick = (id) => {
    for (const [name, mesh] of cuts) {
      const own = mesh.userData.own;
      mesh.material.color.copy(name === id ? new THREE.Color(1, 0.75, 0) : own);
      mesh.material.emissive.set(name === id ? 0x664400 : 0);
    }
    for (const button of document.querySelectorAll("button[data-cut]")) {
      button.setAttribute("aria-pressed", String(button.dataset.cut === id && button.getAttribute("aria-pressed") !== "true"));
    }
    draw();
  };
  const clear = (percent) => {
    if (!wood) return;
    wood.material.opacity = percent / 100;
    wood.material.transparent = percent < 100;
    wood.material.depthWrite = percent >= 100;
    wood.visible = percent > 0;
    draw();
  };

  controls.addEventListener("change", draw);
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
    draw();
  });

  new THREE.GLTFLoader().load(frame.dataset.mesh, ({ scene: made }) => {
    const box = new THREE.Box3().setFromObject(made);
    box.getCenter(middle);
    reach = box.getSize(new THREE.Vector3()).length() / 2;
    made.traverse((each) => {
      if (!each.isMesh) return;
      each.material = new THREE.MeshStandardMaterial({
        color: each.material.color, roughness: 0.85, metalness: 0, flatShading: true,
        transparent: each.name === "body", opacity: each.material.opacity, side: THREE.DoubleSide,
      });
      if (each.name === "body") {
        wood = each;
        each.renderOrder = 2;
        const edges = new THREE.LineSegments(new THREE.EdgesGeometry(each.geometry, 40), new THREE.LineBasicMaterial({ color: 0x777777 }));
        scene.add(edges);
      } else {
        each.userData.own = each.material.color.clone();
        cuts.set(each.name, each);
      }
    });
    scene.add(made);
    says.remove();
    clear(Number(document.getElementById("clear").value));
    fit();
    look("slant");
    frame.dataset.drawn = String(cuts.size);
  }, undefined, () => { says.textContent = "The body could not be loaded; load the page again."; });
  return { look, pick, clear };
}

document.addEventListener("click", (event) => {
  const way = event.target.closest("button[data-way]");
  if (way) shown?.look(way.dataset.way);
  const cut = event.target.closest("button[data-cut]");
  if (cut) shown?.pick(cut.getAttribute("aria-pressed") === "true" ? "" : cut.dataset.cut);
});
document.addEventListener("input", (event) => { if (event.target.id === "clear") shown?.clear(Number(event.target.value)); });

function prepare() {
  const frame = document.getElementById("scene");
  if (frame && !frame.querySelector("canvas")) shown = show(frame);
}

document.addEventListener("htmx:after:swap", prepare);
prepare();
