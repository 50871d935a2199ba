"""A projected grey-scale slide on a wall, seen by a camera: physical render with truth.

make_wall(seed, out_folder) writes wall.tif (linear 16 bit RGB), wall.jpg (sRGB 8 bit), inputs.json
(what a person could know, with ordinary errors) and truth.json. Returns (linear image float HxWx3, truth).
"""
import json
import os
import numpy as np
import tifffile
from PIL import Image
from scipy.ndimage import gaussian_filter, map_coordinates

W, HH = 1200, 800            # camera image
PPM = 44                     # pixels per slide millimetre on the wall grid
OPEN_MM = (34.0, 23.0)       # mount opening
PAD_MM = 5.0                 # dark wall around the picture, in slide millimetres


def callier(d, p):
    """Q of diffuse density: starts at q0, falls smoothly towards q1."""
    return p["q1"] + (p["q0"] - p["q1"]) / (1 + (np.asarray(d, float) / p["d0"]) ** p["power"])


def screen_gain(theta, p):
    """Gain against the angle from the normal: a diffuse part and a forward lobe."""
    return p["diffuse"] + (p["peak"] - p["diffuse"]) * np.exp(-(np.asarray(theta) / p["width_rad"]) ** 2)


def _homography(src, dst):
    a = []
    for (x, y), (u, v) in zip(src, dst):
        a += [[x, y, 1, 0, 0, 0, -u * x, -u * y, -u], [0, 0, 0, x, y, 1, -v * x, -v * y, -v]]
    return np.linalg.svd(np.array(a, float))[2][-1].reshape(3, 3)


def _apply(h, pts):
    q = np.c_[np.asarray(pts, float), np.ones(len(pts))] @ h.T
    return q[:, :2] / q[:, 2:]


def make_wall(seed, out_folder=None, **force):
    """force: replace drawn values, e.g. room_lux=0, veil_uniform=0, veil_local=0, camera_flare=0."""
    rng = np.random.default_rng([9201, int(seed)])
    U = rng.uniform
    v = {"lamp_lumens": U(900, 3000), "lens_transmission": U(.72, .9), "picture_width_m": U(1.2, 3.0),
         "q0": U(1.35, 1.58), "q1": U(1.15, 1.28), "d0": U(.6, 1.4), "power": U(1.2, 2.2),
         "base": U(.03, .12), "dmax": U(2.6, 3.4),
         "veil_uniform": U(.001, .006), "veil_local": U(.002, .01), "veil_sigma_mm": U(2, 5),
         "room_lux": np.exp(U(np.log(.05), np.log(8))), "room_tilt": U(-.15, .15),
         "gain_peak": U(.95, 1.8), "gain_diffuse": U(.75, .95), "gain_width_deg": U(15, 35), "albedo": U(.75, .92),
         "fall_corner": U(.55, .85), "hot_x": U(-.15, .15), "hot_y": U(-.15, .15), "slide_blur_mm": U(.03, .08),
         "camera_flare": U(.001, .008), "camera_blur_px": U(.6, 1.3), "full_well": U(15000, 50000),
         "read_noise_e": U(2, 8), "cam_vignette": U(.0, .2), "cam_azimuth_deg": U(-22, 22), "cam_height": U(-.25, .25),
         "tiff_black": 0}
    v.update(force)
    ow, oh = OPEN_MM
    nx, ny = int((ow + 2 * PAD_MM) * PPM), int((oh + 2 * PAD_MM) * PPM)
    X, Y = np.meshgrid((np.arange(nx) + .5) / PPM - PAD_MM, (np.arange(ny) + .5) / PPM - PAD_MM)   # slide mm
    m_per_mm = v["picture_width_m"] / ow

    # slide: 6 x 4 patches shuffled in half the cases, grey gaps
    cols, rows = 6, 4
    dens = np.linspace(v["base"], v["dmax"], cols * rows)
    order = rng.permutation(len(dens)) if seed % 2 else np.arange(len(dens))
    gap_d, mx, my, gap = .9, 1.6, 1.5, .7
    pw, ph = (ow - 2 * mx - (cols - 1) * gap) / cols, (oh - 2 * my - (rows - 1) * gap) / rows
    D = np.full(X.shape, gap_d)
    boxes = []
    for k, o in enumerate(order):
        x0, y0 = mx + (k % cols) * (pw + gap), my + (k // cols) * (ph + gap)
        D[(X >= x0) & (X < x0 + pw) & (Y >= y0) & (Y < y0 + ph)] = dens[o]
        boxes.append((x0, y0, pw, ph, float(dens[o])))
    inside = (X >= 0) & (X < ow) & (Y >= 0) & (Y < oh)
    spec = callier(D, v) * D
    T = np.where(inside, 10 ** -spec, 0)
    T = gaussian_filter(T, v["slide_blur_mm"] * PPM)

    # open-gate illuminance, lux: lumens over area times fall-off, mean of fall-off over the opening = 1
    hx, hy = (X - ow / 2) / (ow / 2) - v["hot_x"], (Y - oh / 2) / (ow / 2) - v["hot_y"]
    r2 = hx ** 2 + hy ** 2
    fall = v["fall_corner"] ** (r2 / (1 + (oh / ow) ** 2))
    fall /= fall[inside].mean()
    area = ow * oh * m_per_mm ** 2
    e_gate = v["lamp_lumens"] * v["lens_transmission"] / area
    E_img = e_gate * fall * T
    mean_img = (E_img * inside).sum() / inside.sum()
    E_veil = v["veil_uniform"] * mean_img + v["veil_local"] * gaussian_filter(E_img, v["veil_sigma_mm"] * PPM, truncate=3)
    E_room = v["room_lux"] * (1 + v["room_tilt"] * (X - ow / 2) / (ow / 2))

    # camera place (metres; wall plane z = 0, x right, y down, origin at the picture's middle)
    dist = v["picture_width_m"] * 1.75
    az = np.radians(v["cam_azimuth_deg"])
    cam = np.array([dist * np.sin(az), v["cam_height"] * v["picture_width_m"], dist * np.cos(az)])
    xm, ym = (X - ow / 2) * m_per_mm, (Y - oh / 2) * m_per_mm
    theta = np.arccos(cam[2] / np.sqrt((xm - cam[0]) ** 2 + (ym - cam[1]) ** 2 + cam[2] ** 2))
    gp = {"peak": v["gain_peak"], "diffuse": v["gain_diffuse"], "width_rad": np.radians(v["gain_width_deg"])}
    G = screen_gain(theta, gp)
    L = (G * (E_img + E_veil) + v["albedo"] * E_room) / np.pi
    # room light comes from all sides and meets the albedo, not the gain

    # pinhole looking at the picture's middle
    z = -cam / np.linalg.norm(cam)
    xr = np.cross(z, [0, 1, 0])          # x right, y down, z towards the room
    xr /= np.linalg.norm(xr)
    yd = np.cross(xr, z)
    f = .80 * W / v["picture_width_m"] * np.linalg.norm(cam) * .95

    def project(mm):
        p = np.c_[(np.asarray(mm)[:, 0] - ow / 2) * m_per_mm, (np.asarray(mm)[:, 1] - oh / 2) * m_per_mm,
                  np.zeros(len(mm))] - cam
        return np.c_[f * (p @ xr) / (p @ z) + W / 2, f * (p @ yd) / (p @ z) + HH / 2]

    corners = np.array([[0, 0], [ow, 0], [ow, oh], [0, oh]], float)
    hom = _homography(project(corners), corners)
    gu, gv = np.meshgrid(np.arange(W) + .5, np.arange(HH) + .5)
    mm = _apply(hom, np.c_[gu.ravel(), gv.ravel()])
    gx, gy = (mm[:, 0] + PAD_MM) * PPM - .5, (mm[:, 1] + PAD_MM) * PPM - .5
    step = ow * PPM / (.76 * W)
    scene = map_coordinates(gaussian_filter(L, .4 * step), [gy, gx], order=1, mode="nearest").reshape(HH, W)

    # camera: own flare (flat), blur, vignetting, noise
    r2c = ((gu - W / 2) ** 2 + (gv - HH / 2) ** 2) / ((W / 2) ** 2 + (HH / 2) ** 2)
    vig = 1 - v["cam_vignette"] * r2c
    sc = gaussian_filter(scene, v["camera_blur_px"]) * vig
    sc = (1 - v["camera_flare"]) * sc + v["camera_flare"] * sc.mean()
    k = .82 / np.percentile(sc, 99.8)                     # linear full scale per cd/m2
    lin = np.clip(sc * k, 0, None)
    tint = np.array([1.0, .96, .86])                      # lamp colour left after white balance; green-weighted Y = 1
    tint /= tint @ [.2126, .7152, .0722]
    img = lin[..., None] * tint
    img = img + np.sqrt(img / v["full_well"] + (v["read_noise_e"] / v["full_well"]) ** 2) * rng.standard_normal(img.shape)
    black = v["tiff_black"] / 65535                       # pedestal of the tiff; 0 unless forced (then noise is not cut)
    tif = np.clip(np.round((np.clip(img, -black, 1) * (1 - black) + black) * 65535), 0, 65535).astype(np.uint16)
    s = np.clip(img, 0, 1)
    srgb = np.where(s <= .0031308, 12.92 * s, 1.055 * s ** (1 / 2.4) - .055)
    jpg = np.round(srgb * 255).astype(np.uint8)

    patches = []
    for i, (x0, y0, w, h, d) in enumerate(boxes):
        cut = .2
        q = np.array([[x0 + cut * w, y0 + cut * h], [x0 + w - cut * w, y0 + cut * h],
                      [x0 + w - cut * w, y0 + h - cut * h], [x0 + cut * w, y0 + h - cut * h]])
        b = (X >= q[0, 0]) & (X < q[2, 0]) & (Y >= q[0, 1]) & (Y < q[2, 1])
        Qd = float(callier(d, v))
        patches.append({"id": i, "diffuse_density": d, "Q": Qd, "specular_density": Qd * d,
                        "polygon_px": project(q).tolist(), "box_mm": [x0, y0, w, h],
                        "luminance_cd_m2": float(L[b].mean()),
                        "parts_cd_m2": {"picture": float((G * E_img)[b].mean() / np.pi),
                                        "veil": float((G * E_veil)[b].mean() / np.pi),
                                        "room": float((v["albedo"] * E_room)[b].mean() / np.pi)},
                        "fall_off": float(fall[b].mean()), "gain": float(G[b].mean())})
    tot_veil = float(E_veil[inside].mean() / mean_img)
    truth = {"seed": int(seed), "variant": "open", "values": {a: float(b) for a, b in v.items()},
             "open_gate_lux_mean": e_gate, "picture_area_m2": area, "mean_picture_lux": float(mean_img),
             "veil_mean_over_picture_mean": tot_veil, "callier": "q1+(q0-q1)/(1+(d/d0)^power)",
             "luminance_meaning": "towards the camera, on the wall, without anything the camera adds",
             "opening_px": project(corners).tolist(), "opening_mm": [ow, oh],
             "fall_off_grid_9x7": [[float(fall[int((PAD_MM + oh * (j + .5) / 7) * PPM), int((PAD_MM + ow * (i + .5) / 9) * PPM)])
                                    for i in range(9)] for j in range(7)],
             "camera": {"full_scale_per_cd_m2": float(k), "tiff_black": v["tiff_black"], "tint": tint.tolist(),
                        "flare": v["camera_flare"], "vignette": v["cam_vignette"],
                        "tiff_law": "Y=0.2126R+0.7152G+0.0722B; linear=(v-tiff_black)/(65535-tiff_black)"},
             "patches": patches}
    e = rng.normal
    white = min(patches, key=lambda p: p["diffuse_density"])
    inputs = {"lamp_lumens_as_labelled": round(v["lamp_lumens"] * (1 + e(0, .08)), -1),
              "open_gate_lux_measured_at_9_points": [[round(float(e_gate * truth["fall_off_grid_9x7"][j][i] * (1 + e(0, .03))), 1)
                                                      for i in (0, 4, 8)] for j in (0, 3, 6)],
              "picture_width_m": round(v["picture_width_m"] + e(0, .01), 2),
              "room_lux_measured": round(float(v["room_lux"] * (1 + e(0, .05))), 2),
              "screen_gain_as_labelled": round(v["gain_peak"], 1), "screen_albedo": round(v["albedo"], 2),
              "camera_angle_deg": round(v["cam_azimuth_deg"]), "tiff_black": v["tiff_black"],
              "diffuse_densities": [round(p["diffuse_density"] + e(0, .01), 2) for p in patches],
              "spot_meter": {"patch": white["id"], "cd_m2": round(float(white["luminance_cd_m2"] * (1 + e(0, .03))), 2)},
              "opening_px": [[round(a, 1) for a in p] for p in truth["opening_px"]],
              "patches_px": [[[round(a, 1) for a in c] for c in p["polygon_px"]] for p in patches]}
    if out_folder:
        os.makedirs(out_folder, exist_ok=True)
        tifffile.imwrite(os.path.join(out_folder, "wall.tif"), tif, photometric="rgb")
        Image.fromarray(jpg).save(os.path.join(out_folder, "wall.jpg"), quality=92)
        json.dump(truth, open(os.path.join(out_folder, "truth.json"), "w"), indent=1)
        json.dump(inputs, open(os.path.join(out_folder, "inputs.json"), "w"), indent=1)
    truth["inputs"] = inputs
    return (tif.astype(float) - v["tiff_black"]) / (65535 - v["tiff_black"]), truth


if __name__ == "__main__":
    import sys
    a = sys.argv
    make_wall(int(a[1]) if len(a) > 1 else 0, a[2] if len(a) > 2 else "wall_0")
