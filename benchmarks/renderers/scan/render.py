#!/usr/bin/env python3
"""Renderer S: 'A SCANNER'.  See README.md."""
import argparse, io, json, os, struct, zlib
import numpy as np
from scipy import ndimage as ndi
from PIL import Image, ImageDraw
import tifffile, imagecodecs

STRIP_KINDS = ["35mm", "120", "wedge", "hand_cut", "holder", "cut_ends", "two_strips",
               "curled", "leaves_picture", "equal_steps", "merge"]
FILE_KINDS = ["linear_tiff16", "tiff16_icc", "png16", "auto_jpeg"]
LUM = np.array([0.25, 0.60, 0.15])          # weights used for the one "true" density


# ------------------------------------------------------------------ the film
def pick_densities(r, n, lo, hi, kind):
    g = r.uniform(0.6, 1.4, n)
    d = np.cumsum(g); d = (d - d[0]) / (d[-1] - d[0])
    d = lo + (hi - lo) * d ** r.uniform(0.8, 1.3)
    for i in range(1, n):                       # neighbours in the sorted list stay apart
        d[i] = max(d[i], d[i - 1] + 0.03)
    d = np.minimum(d, 2.9)
    o = r.choice(["up", "down", "mixed", "zigzag", "peak"], p=[.3, .2, .3, .1, .1])
    if o == "down": d = d[::-1]
    elif o == "mixed":
        for _ in range(20):
            p = r.permutation(n)
            if np.abs(np.diff(d[p])).min() > 0.06: break
        d = d[p]
    elif o == "zigzag":
        h = (n + 1) // 2
        e = np.empty(n); e[0::2] = d[:h]; e[1::2] = d[h:]; d = e
    elif o == "peak":
        d = np.concatenate([d[0::2], d[1::2][::-1]])
    d = d.copy()
    if kind == "equal_steps":
        i = int(r.integers(0, n - 1)); run = int(r.integers(2, 4))
        d[i:i + run] = d[i]
        if n > 8 and r.random() < .5:
            j = int(r.integers(0, n - 1)); d[j + 1] = d[j]
    return d, str(o)


def make_film(r, kind, small=False):
    """A strip in mm.  Gives patches (each four (u,v) points), densities and a raster of density."""
    if kind in ("35mm", "120", "wedge"): fmt = kind
    elif kind == "merge": fmt = r.choice(["35mm", "120"])
    elif kind == "equal_steps": fmt = r.choice(["35mm", "120", "wedge"], p=[.3, .2, .5])
    else: fmt = r.choice(["35mm", "120", "wedge"], p=[.5, .25, .25])
    fmt = str(fmt)
    n = int(r.choice([5, 6, 7, 8, 9, 10, 11, 12, 14, 16, 18, 21, 24],
                     p=[.1, .16, .1, .1, .08, .1, .06, .1, .05, .05, .04, .03, .03]))
    if small: n = int(r.integers(3, 6))
    base = r.uniform(0.05, 0.35)
    hi = r.uniform(1.5, 2.9)
    lo = max(0.1, base + r.uniform(0.0, 0.1))
    dens, order = pick_densities(r, n, lo, hi, kind)
    dark = r.uniform(2.7, 2.9)
    border_is_dark = r.random() < (0.65 if fmt != "wedge" else 0.3)
    border = dark if border_is_dark else base
    bar_dark = r.random() < 0.5
    bar = (min(dark, 2.9) if bar_dark else base + 0.01)
    if kind == "merge":
        dens[0] = dens[-1] = np.clip(border, 0.1, 2.9)
        border = dens[0]; bar = border
    else:
        for e in (0, -1):
            if abs(dens[e] - border) < 0.12:
                dens[e] += 0.16 if border < 1 else -0.16
    if fmt == "35mm":
        width, v0, fh = 35.0, 5.5, 24.0
        perf_n = 8 if n <= 7 else (5 if n <= 10 else (4 if n <= 14 else (3 if n <= 18 else 2)))
        pitch, gap = perf_n * 4.75, r.uniform(0.9, 2.2)
    elif fmt == "120":
        width, v0, fh = 61.4, 2.7, 56.0
        pitch = r.uniform(1.25, 1.35) * width if n <= 5 else 61.4 * 7.2 / n
        gap = pitch * r.uniform(0.03, 0.09)
    else:
        width = r.uniform(12, 30); m = r.choice([0.0, 0.0, 0.08, 0.15]); v0 = m * width
        fh = width - 2 * v0; pitch, gap = width * r.uniform(4.5, 8.0) / n, 0.0
    if small and fmt != "35mm": pitch = min(pitch, width)
    lead = [pitch * r.uniform(0.05, 0.6), pitch * r.uniform(0.05, 0.6)]
    if fmt == "wedge": lead = [x * r.choice([0, 0.3, 1]) for x in lead]
    if kind == "merge": lead = [pitch * r.uniform(.5, 1.1) for _ in lead]
    pit = np.full(n, pitch); gaps = np.full(n, gap)
    if kind == "hand_cut":
        pit = pitch * r.uniform(0.68, 1.36, n)
        gaps = pitch * (r.uniform(0.02, 0.14, n) if fmt != "wedge" else np.zeros(n))
    edges = lead[0] + np.concatenate([[0], np.cumsum(pit)])
    L = edges[-1] + lead[1]
    slant = [0.0, 0.0]
    cut = [0.0, L]
    if kind == "cut_ends":
        cut = [edges[0] + pit[0] * r.uniform(.25, .55), edges[-1] - pit[-1] * r.uniform(.25, .55)]
        slant = [pit[0] * r.uniform(-.18, .18) / width, pit[-1] * r.uniform(-.18, .18) / width]
    quads = []
    vj = r.uniform(-.25, .25, n) if fmt == "120" or kind == "hand_cut" else np.zeros(n)
    for i in range(n):
        a, b = edges[i] + gaps[i] / 2, edges[i + 1] - gaps[i] / 2
        t, w = v0 + vj[i], v0 + fh + vj[i]
        t, w = max(t, 0), min(w, width)
        q = np.array([[a, t], [b, t], [b, w], [a, w]])
        if kind == "cut_ends":
            if i == 0:
                for k in (0, 3): q[k, 0] = cut[0] + slant[0] * (q[k, 1] - width / 2)
            if i == n - 1:
                for k in (1, 2): q[k, 0] = cut[1] + slant[1] * (q[k, 1] - width / 2)
        quads.append(q)
    # ---- raster
    px = min(3200 / L, 900 / width)
    hh, ww = int(round(width * px)), int(round(L * px))
    D = np.full((hh, ww), border, np.float32)
    if gap > 0 or kind == "hand_cut":           # bars
        a0, a1 = edges[0], edges[-1]
        i0, i1 = int(a0 * px), int(a1 * px)
        D[int(round((v0 + max(vj.min(), 0)) * px)):int(round((v0 + fh + min(vj.max(), 0)) * px)), i0:i1] = bar
    fr = np.zeros((hh, ww), bool)
    for i, q in enumerate(quads):
        x0, x1 = edges[i] + gaps[i] / 2, edges[i + 1] - gaps[i] / 2
        ys = slice(int(round(q[0, 1] * px)), int(round(q[2, 1] * px)))
        xs = slice(int(round(x0 * px)), int(round(x1 * px)))
        D[ys, xs] = dens[i]; fr[ys, xs] = True
    if fmt != "wedge" and v0 * px > 14:         # frame numbers and ticks on the border
        im = Image.new("L", (ww, hh), 0); dr = ImageDraw.Draw(im)
        s0 = int(r.integers(1, 30))
        for i in range(n):
            xx = (edges[i] + edges[i + 1]) / 2 * px
            yy = 0.6 if fmt == "35mm" else 0.2
            dr.text((xx, yy), str(s0 + i), fill=255, font_size=max(8, int(v0 * px * .26)))
            dr.rectangle([xx + 60, 2, xx + 66, 2 + v0 * px * .2], fill=255)
        ink = (np.asarray(im, np.float32) / 255) * (~fr)
        D += ink * ((base if border > 1 else 1.6) - border)
    # grain, scratches
    g = ndi.gaussian_filter(r.standard_normal((hh, ww)).astype(np.float32), r.uniform(.6, 1.3))
    g /= g.std()
    D += g * r.uniform(.008, .035) * np.sqrt(np.clip(D, .05, 3) / 2)
    for _ in range(int(r.poisson(2))):
        y = r.uniform(0, hh); k = np.arange(ww); yy = np.clip(y + 3 * np.sin(k / ww * 3), 0, hh - 1).astype(int)
        D[yy, k] += r.choice([-.12, .15])
    A = np.ones((hh, ww), np.float32)
    if fmt == "35mm":
        off = r.uniform(0, 4.75)
        u = np.arange(off - 4.75, L + 4.75, 4.75)
        yy, xx = np.mgrid[0:int(2.8 * px) + 3, 0:int(1.98 * px) + 3]
        ch, cw, rad = 2.8 * px / 2, 1.98 * px / 2, 0.5 * px
        dx = np.maximum(np.abs(xx - cw) - (cw - rad), 0); dy = np.maximum(np.abs(yy - ch) - (ch - rad), 0)
        hole = (np.hypot(dx, dy) < rad)
        for vtop in (2.0 * px, (35 - 2.0 - 2.8) * px):
            for x in u:
                x = int(round(x * px)); y = int(round(vtop))
                a, b = max(x, 0), min(x + hole.shape[1], ww)
                if b > a: A[y:y + hole.shape[0], a:b][hole[:hh - y, a - x:b - x]] = 0
    uu = (np.arange(ww) + .5) / px; vv = (np.arange(hh) + .5) / px
    s = slant
    A *= (uu[None] > cut[0] + s[0] * (vv[:, None] - width / 2)) & (uu[None] < cut[1] + s[1] * (vv[:, None] - width / 2))
    if kind == "hand_cut":                      # a scissored edge
        k = uu / L * 2 * np.pi
        wob = lambda: 0.012 * width * (np.sin(k * r.uniform(.5, 2) + r.uniform(0, 6)) - 1)
        if v0 > 0.03 * width:
            A *= (vv[:, None] > -wob()[None]) & (vv[:, None] < width + wob()[None])
    tint = np.zeros(3)
    if r.random() < .5:
        t = r.choice(["warm", "cool", "pink"])
        tint = {"warm": np.array([-.03, 0, .05]), "cool": np.array([.03, 0, -.02]), "pink": np.array([-.02, .02, 0])}[str(t)] * r.uniform(.4, 1.2)
        tint = tint + np.log10((LUM * 10 ** -tint).sum())   # the weighted transmission is unchanged
    return dict(fmt=fmt, n=n, base=base, dens=dens, order=order, quads=quads, width=width, L=L, px=px, D=D, A=A,
                tint=tint, border=border, bar=bar if (gap > 0 or kind == "hand_cut") else None, v0=v0, fh=fh, cut=cut, pitch=pitch)


# ------------------------------------------------------------------ placing it on the glass
class Place:
    def __init__(s, film, centre, scale, deg, bow=0.0, ph=0.0, kk=1.0):
        s.f, s.c, s.k, s.t = film, np.asarray(centre, float), scale, np.deg2rad(deg)
        s.bow, s.ph, s.kk = bow, ph, kk

    def _bow(s, u):
        return s.bow * np.sin(np.pi * s.kk * u / s.f["L"] + s.ph)

    def fwd(s, p):
        p = np.asarray(p, float).reshape(-1, 2)
        a = p[:, 0] - s.f["L"] / 2
        b = p[:, 1] - s.f["width"] / 2 + s._bow(p[:, 0])
        c, n = np.cos(s.t), np.sin(s.t)
        return s.c + s.k * np.stack([a * c - b * n, a * n + b * c], 1)

    def inv(s, X, Y):
        x, y = (X - s.c[0]) / s.k, (Y - s.c[1]) / s.k
        c, n = np.cos(s.t), np.sin(s.t)
        u = x * c + y * n + s.f["L"] / 2
        v = -x * n + y * c + s.f["width"] / 2
        return u, v - s._bow(u)


def lay(T, pl, X, Y):
    """Multiply the film into the transmission picture T (H,W,3)."""
    f = pl.f
    u, v = pl.inv(X, Y)
    m = (u > -2) & (u < f["L"] + 2) & (v > -2) & (v < f["width"] + 2)
    rr, cc = np.nonzero(m)
    pd = 8                                              # a clear margin, so that the cut edge is soft
    co = [v[m] * f["px"] - .5 + pd, u[m] * f["px"] - .5 + pd]
    s = max(f["px"] / pl.k * .42, .5)
    al = np.pad(f["A"], pd)
    tr = al * 10 ** -np.pad(f["D"], pd, mode="edge")
    tr = ndi.gaussian_filter(tr, s, mode="constant"); al = ndi.gaussian_filter(al, s, mode="constant")
    tr = ndi.map_coordinates(tr, co, order=1, cval=0); al = ndi.map_coordinates(al, co, order=1, cval=0)
    for ch in range(3):
        T[rr, cc, ch] *= tr * 10 ** -f["tint"][ch] + (1 - al)


def box_cov(u, v, u0, u1, v0, v1, s):
    d = np.minimum(np.minimum(u - u0, u1 - u), np.minimum(v - v0, v1 - v))
    return np.clip(d * s + .5, 0, 1)


def clip_poly(P, W, H):
    P = [tuple(p) for p in P]
    for ax, lim, sg in ((0, 0, 1), (0, W - 1, -1), (1, 0, 1), (1, H - 1, -1)):
        out = []
        for i in range(len(P)):
            a, b = P[i - 1], P[i]
            da, db = sg * (a[ax] - lim), sg * (b[ax] - lim)
            if (da >= 0) != (db >= 0):
                t = da / (da - db); out.append((a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])))
            if db >= 0: out.append(b)
        P = out
        if not P: break
    return np.array(P).reshape(-1, 2)


def area(P):
    if len(P) < 3: return 0.0
    x, y = P[:, 0], P[:, 1]
    return abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1))) / 2


def truth_of(pl, W, H):
    keep, part = [], []
    for i, q in enumerate(pl.f["quads"]):
        P = pl.fwd(q); C = clip_poly(P, W, H); fr = area(C) / area(P)
        (keep if fr >= .5 else part).append((i, P if fr > .999 else C, fr))
    i0, i1 = keep[0][0], keep[-1][0]
    q0, q1 = pl.f["quads"][i0], pl.f["quads"][i1].copy()
    q0 = q0.copy()
    vc = (q0[0, 1] + q0[3, 1]) / 2                       # run back inside the picture if cut by its edge
    def inside(u):
        p = pl.fwd([[u, vc]])[0]; return -1 <= p[0] <= W and -1 <= p[1] <= H
    us, ue = q0[[0, 3], 0].mean(), q1[[1, 2], 0].mean()
    if not inside(us):
        while not inside(us): us += .1
        q0[[0, 3], 0] = us
    if not inside(ue):
        while not inside(ue): ue -= .1
        q1[[1, 2], 0] = ue
    corners = pl.fwd([q0[0], q1[1], q1[2], q0[3]])
    rd = lambda P: [[round(float(a), 2), round(float(b), 2)] for a, b in P]
    return dict(patches=len(keep), densities=[round(float(pl.f["dens"][k]), 4) for k, _, _ in keep],
                densities_rgb=[[round(float(pl.f["dens"][k] + t), 4) for t in pl.f["tint"]] for k, _, _ in keep],
                corners=rd(corners), patch_polygons=[rd(P) for _, P, _ in keep],
                partial=[dict(index=k - i0, density=round(float(pl.f["dens"][k]), 4), visible=round(float(f), 3), polygon=rd(P)) for k, P, f in part])


# ------------------------------------------------------------------ files
def icc(gamma, gray=False):
    """A small version-2 matrix/curve (or gray curve) profile, written by hand."""
    fx = lambda x: struct.pack(">i", int(round(x * 65536)))
    xyz = lambda a: b"XYZ \0\0\0\0" + b"".join(fx(v) for v in a)
    if gamma == "srgb":
        x = np.arange(1024) / 1023.; y = np.where(x <= .04045, x / 12.92, ((x + .055) / 1.055) ** 2.4)
        trc = b"curv\0\0\0\0" + struct.pack(">I", 1024) + (np.round(y * 65535).astype(">u2")).tobytes()
    else:
        trc = b"curv\0\0\0\0" + struct.pack(">IH", 1, int(round(gamma * 256)))
    name = b"scan curve\0"
    desc = b"desc\0\0\0\0" + struct.pack(">I", len(name)) + name + b"\0" * (4 + 4 + 2 + 1 + 67)
    tags = [(b"desc", desc), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", xyz((.9642, 1, .8249)))]
    if gray: tags += [(b"kTRC", trc)]
    else:
        tags += [(b"rXYZ", xyz((.43607, .22249, .01392))), (b"gXYZ", xyz((.38515, .71687, .09708))),
                 (b"bXYZ", xyz((.14307, .06061, .71410)))] + [(k, trc) for k in (b"rTRC", b"gTRC", b"bTRC")]
    off = 128 + 4 + 12 * len(tags); tab, body = b"", b""
    for k, d in tags:
        d2 = d + b"\0" * (-len(d) % 4)
        tab += k + struct.pack(">II", off + len(body), len(d)); body += d2
    size = off + len(body)
    head = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x02100000, b"scnr", b"GRAY" if gray else b"RGB ", b"XYZ ")
    head += struct.pack(">6H", 2020, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28
    head += fx(.9642) + fx(1) + fx(.8249)
    head += b"\0" * (128 - len(head))
    return head + struct.pack(">I", len(tags)) + tab + body


def oetf(x, g):
    x = np.clip(x, 0, 1)
    if g == "srgb": return np.where(x <= .0031308, 12.92 * x, 1.055 * x ** (1 / 2.4) - .055)
    return x ** (1 / g)


def png_chunk(k, d): return struct.pack(">I", len(d)) + k + d + struct.pack(">I", zlib.crc32(k + d) & 0xffffffff)


def write_file(r, lin, kind, stem):
    """lin: sensor values 0..1 (H,W,3), dark offset inside.  Returns (path, dict on the encoding)."""
    dither = lambda a, m: np.clip(np.round(a * m), 0, m)
    gray = kind != "auto_jpeg" and r.random() < .3 or kind == "auto_jpeg" and r.random() < .2
    if gray: lin = lin[..., 1:2] if r.random() < .5 else (lin @ LUM)[..., None]
    if kind == "linear_tiff16":
        p = stem + ".tif"; a = dither(lin, 65535).astype(np.uint16)
        tifffile.imwrite(p, a[..., 0] if gray else a, photometric="minisblack" if gray else "rgb", compression=None if r.random() < .5 else "zlib", resolution=(2400, 2400))
        return p, dict(curve="linear", gray=bool(gray))
    if kind == "tiff16_icc":
        g = [1.8, 2.2, "srgb"][int(r.integers(3))]
        p = stem + ".tif"; a = dither(oetf(lin, g), 65535).astype(np.uint16)
        b = icc(g, gray)
        tifffile.imwrite(p, a[..., 0] if gray else a, photometric="minisblack" if gray else "rgb", iccprofile=b, resolution=(2400, 2400))
        return p, dict(curve=str(g), gray=bool(gray))
    if kind == "png16":
        g = ["srgb", 2.2, 1.0][int(r.integers(3))]
        p = stem + ".png"; a = dither(oetf(lin, g), 65535).astype(np.uint16)
        b = imagecodecs.png_encode(np.ascontiguousarray(a[..., 0] if gray else a), level=1)
        gam = struct.pack(">I", 45455 if g == "srgb" else int(round(100000 / g)))
        ch = png_chunk(b"gAMA", gam)
        if g == "srgb": ch = png_chunk(b"sRGB", b"\0") + ch
        b = b[:33] + ch + b[33:]
        open(p, "wb").write(b)
        return p, dict(curve=str(g), gray=bool(gray), tag="sRGB+gAMA" if g == "srgb" else "gAMA")
    # auto tone: black and white points from the histogram, a brightness power, a weak S
    clipw, clipb = r.choice([0.01, .1, .5]), r.choice([0.01, .1, .4])
    y = lin.copy(); per = r.random() < .3
    for c in (range(lin.shape[2])):
        src = lin[::3, ::3, c] if per else lin[::3, ::3]
        b, w = np.percentile(src, clipb), np.percentile(src, 100 - clipw)
        y[..., c] = (lin[..., c] - b) / max(w * r.uniform(1.0, 1.04) - b, .05)
    g = r.uniform(1.8, 2.4); y = oetf(y, g); s = r.uniform(0, .35)
    y = (1 - s) * y + s * (3 * y ** 2 - 2 * y ** 3)
    if r.random() < .6: y = np.clip(y + r.uniform(.2, .7) * (y - ndi.gaussian_filter(y, (1.2, 1.2, 0))), 0, 1)
    a = dither(y, 255).astype(np.uint8); p = stem + ".jpg"
    q = int(r.integers(82, 97))
    Image.fromarray(a[..., 0] if gray else a).save(p, quality=q, subsampling=int(r.choice([0, 2])), dpi=(1200, 1200))
    return p, dict(curve="auto tone, power %.2f, S %.2f" % (1 / g, s), gray=bool(gray), quality=q, per_channel=bool(per), clip_percent=[float(clipb), float(clipw)])


# ------------------------------------------------------------------ one scan
def lay_card(r, free, reach):
    """Coverage of an opaque piece on the widest free place, None where none is wide enough; drawn from a generator of its own."""
    depth = ndi.distance_transform_edt(np.pad(free, 1))[1:-1, 1:-1]
    y, x = np.unravel_index(int(np.argmax(depth)), depth.shape)
    half = min(.66 * depth[y, x], reach * r.uniform(.5, 1))
    if half < 8: return None
    t = r.normal(0, .2); c, s = np.cos(t), np.sin(t)
    q = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half * [1, r.uniform(.6, 1)]
    im = Image.new("L", free.shape[::-1], 0)
    ImageDraw.Draw(im).polygon([(x + c * a - s * b, y + s * a + c * b) for a, b in q], fill=255)
    return ndi.gaussian_filter(np.asarray(im, np.float32) / 255, .5)


def make_picture(seed, strip_kind, file_kind, out_folder, size=(1800, 1200), card=False):
    if strip_kind not in STRIP_KINDS: raise ValueError(strip_kind)
    if file_kind not in FILE_KINDS: raise ValueError(file_kind)
    r = np.random.default_rng([int(seed), zlib.crc32(("S" + strip_kind).encode()), zlib.crc32(file_kind.encode())])
    os.makedirs(out_folder, exist_ok=True)
    W, H = size
    turn = int(r.choice([0, 90, 180, 270])); skew = r.uniform(-6, 6)
    along_y = turn in (90, 270)
    if along_y and r.random() < .7: W, H = H, W
    la, lc = (H, W) if along_y else (W, H)
    film = make_film(r, strip_kind)
    sk = abs(np.deg2rad(skew))
    bowf = r.uniform(.06, .2) if strip_kind == "curled" else r.uniform(0, .008)
    ul = film["L"]; uw = film["width"] * (1 + 2 * bowf)
    k = r.uniform(.78, .95) * la / (ul * np.cos(sk) + uw * np.sin(sk))
    if strip_kind == "leaves_picture": k = r.uniform(.95, 1.25) * la / ul
    k = min(k, r.uniform(.30, .44) * lc / uw)
    if strip_kind != "leaves_picture":
        k = min(k, .9 * lc / (ul * np.sin(sk) + 1.5 * uw))
    ext = (ul * np.sin(sk) + uw * np.cos(sk)) * k           # cross extent
    exl = (ul * np.cos(sk) + uw * np.sin(sk)) * k
    side = r.choice([-1, 1])
    free = max((lc - ext) / 2 - 0.03 * lc, 0)
    oc = side * free * r.uniform(.1, .85)
    if strip_kind in ("two_strips",): oc = side * min(free, .24 * lc)
    ol = r.uniform(-.8, .8) * max((la - exl) / 2 - 8, 0)
    if strip_kind == "leaves_picture":
        ol = r.choice([-1, 1]) * (max(la - exl, 0) / 2 + k * film["pitch"] * r.uniform(.8, 2.2) + max(exl - la, 0) / 2 + 0.0)
    c = np.array([W / 2, H / 2]) + (np.array([oc, ol]) if along_y else np.array([ol, oc]))
    pl = Place(film, c, k, turn + skew, bow=bowf * film["width"] * r.choice([-1, 1]), ph=r.uniform(0, .5), kk=r.uniform(.8, 1.6))
    Y, X = np.mgrid[0:H, 0:W].astype(np.float32)
    T = np.ones((H, W, 3), np.float32)
    u, v = pl.inv(X, Y)
    fw, fl = film["width"], film["L"]
    note = []
    others = []
    # ---- surround
    if strip_kind == "holder":
        film_v = (film["v0"], film["v0"] + film["fh"])
        over = r.choice([-.04, -.02, .0, .02]) * fw             # negative: the mask eats into the frames
        au0, au1 = film["quads"][0][0, 0] - fl * r.uniform(-.003, .02), film["quads"][-1][1, 0] + fl * r.uniform(-.003, .02)
        av0, av1 = film_v[0] - over, film_v[1] + over
        ap = box_cov(u, v, au0, au1, av0, av1, k)
        lay(T, pl, X, Y)
        for q in film["quads"]:
            q[:, 1] = np.clip(q[:, 1], av0, av1); q[:, 0] = np.clip(q[:, 0], au0, au1)
        if r.random() < .4 and film["bar"] is not None:          # ribs of the mask over the bars
            for i in range(film["n"] - 1):
                m = (film["quads"][i][1, 0] + film["quads"][i + 1][0, 0]) / 2; w = film["pitch"] * r.uniform(.02, .05)
                ap = ap * (1 - box_cov(u, v, m - w, m + w, -9e9, 9e9, k))
                film["quads"][i][1:3, 0] = np.minimum(film["quads"][i][1:3, 0], m - w)
                film["quads"][i + 1][[0, 3], 0] = np.maximum(film["quads"][i + 1][[0, 3], 0], m + w)
            note.append("ribs over the bars")
        hold_w = fw * r.uniform(.35, .6)
        body = box_cov(u, v, -fl * .05, fl * 1.05, -hold_w, fw + hold_w, k)
        slot = np.zeros_like(body)
        mode = r.choice(["outside_open", "slot"])
        sv = (-hold_w * .75, -hold_w * .3) if -oc * (1 if turn in (0, 270) else -1) < 0 else (fw + hold_w * .3, fw + hold_w * .75)
        if mode == "slot": slot = box_cov(u, v, fl * .1, fl * r.uniform(.4, .9), sv[0], sv[1], k)
        hole = np.clip(ap + slot, 0, 1)
        opaque = body * (1 - hole)
        if mode == "slot" and slot[8:-8, 8:-8].max() > .9 and (slot > .9).sum() > 4000 and r.random() < .8:
            opaque = 1 - hole; surround = "black holder with an open slot"
        else: surround = "black holder, open light outside it"
        T *= (1 - opaque * r.uniform(.9993, 1))[..., None]
    else:
        lay(T, pl, X, Y)
        if strip_kind == "two_strips":
            f2 = make_film(r, "two_strips", small=True)
            k2 = min(k * r.uniform(.8, 1.1), .6 * la / f2["L"], .26 * lc / f2["width"])
            c2 = c.copy(); ax = 0 if along_y else 1
            mid = ext / 2 + k2 * f2["width"] * .5 + k2 * f2["L"] * np.sin(sk) * .5 + .03 * lc
            c2[ax] -= side * mid; c2[1 - ax] += r.uniform(-.1, .1) * la
            pl2 = Place(f2, c2, k2, turn + skew + r.uniform(-2, 2) + r.choice([0, 180]))
            lay(T, pl2, X, Y); others.append(pl2)
        if r.random() < .62: surround = "clear"
        else:
            surround = "black mask around a lit window"
            a = np.deg2rad(r.uniform(-1.5, 1.5)); m = r.uniform(.12, .5) * fw
            P = np.concatenate([p.fwd([[0, 0], [p.f["L"], 0], [p.f["L"], p.f["width"]], [0, p.f["width"]],
                                       [p.f["L"] / 2, 0], [p.f["L"] / 2, p.f["width"]]]) for p in [pl] + others])
            xr, yr = X * np.cos(a) + Y * np.sin(a), -X * np.sin(a) + Y * np.cos(a)
            pr = np.stack([P[:, 0] * np.cos(a) + P[:, 1] * np.sin(a), -P[:, 0] * np.sin(a) + P[:, 1] * np.cos(a)], 1)
            mm = m * k
            win = box_cov(xr, yr, pr[:, 0].min() - mm, pr[:, 0].max() + mm, pr[:, 1].min() - mm, pr[:, 1].max() + mm, 1)
            T *= (.0004 + .9996 * win)[..., None]
    if surround == "clear" and r.random() < .5:               # edge of the light unit at one side, if the film is clear of it
        e = r.integers(4); wdt = r.uniform(.01, .035) * min(W, H)
        d = [X, W - X, Y, H - Y][e] - wdt
        if u[d < 4].size and not ((u > 0) & (u < fl) & (v > 0) & (v < fw) & (d < 6)).any():
            T *= (np.clip(d * .5, 0, 1) * .999 + .001)[..., None]
    if card:                                                  # opaque: nothing comes through
        free = T[..., 1] > .999
        laid = lay_card(np.random.default_rng([int(seed), 5]), free, .04 * max(W, H))
        if laid is not None: T *= (1 - laid)[..., None]
    # ---- dust and hairs with sharp shadows
    dm = Image.new("L", (W, H), 0); dr = ImageDraw.Draw(dm)
    for _ in range(int(r.integers(15, 160))):
        x, y, s = r.uniform(0, W), r.uniform(0, H), r.exponential(1.1) + .6
        dr.ellipse([x - s, y - s * r.uniform(.5, 1), x + s, y + s], fill=int(r.integers(90, 255)))
    for _ in range(int(r.integers(0, 7))):
        x, y, a = r.uniform(0, W), r.uniform(0, H), r.uniform(0, 6.3); pts = []
        for _ in range(int(r.integers(10, 40))):
            pts.append((x, y)); a += r.normal(0, .35); x += 4 * np.cos(a); y += 4 * np.sin(a)
        dr.line(pts, fill=int(r.integers(120, 235)), width=int(r.integers(1, 3)))
    dust = ndi.gaussian_filter(np.asarray(dm, np.float32) / 255, .45)
    T *= (1 - .93 * dust)[..., None]
    # ---- scanner.  The CCD line lies along axis `ln`, the carriage moves along the other
    ln = int(r.integers(2)); mv = 1 - ln
    nl, nm = T.shape[ln], T.shape[mv]
    onl = lambda a: a[:, None, None] if ln == 0 else a[None, :, None]
    onm = lambda a: a[:, None, None] if mv == 0 else a[None, :, None]
    x = np.linspace(-1, 1, nl)
    lamp = 1 - r.uniform(0, .05) * x ** 2 + r.uniform(-.015, .015) * x
    drift = 1 + r.uniform(-.012, .012) * np.linspace(0, 1, nm) ** 2
    I = T * onl(lamp).astype(np.float32) * onm(drift).astype(np.float32)
    tail = r.uniform(.3, 1)
    f = r.uniform(.01, .03)
    mean_line = ndi.gaussian_filter1d(I.mean(axis=ln, keepdims=True), 6, axis=mv)
    small = ndi.zoom(I.mean(2), .125, order=1)
    near = ndi.gaussian_filter1d(ndi.gaussian_filter1d(small, nl * .04 / 1, axis=ln, mode="nearest"), 4, axis=mv, mode="nearest")
    near = ndi.zoom(near, (H / near.shape[0], W / near.shape[1]), order=1)[:H, :W, None]
    I = (1 - f) * I + f * (tail * mean_line + (1 - tail) * near)
    # smear: a one-sided tail along the read-out direction; blooming: short two-sided spill off bright areas
    sm, dec = r.uniform(.001, .006), float(np.exp(-1 / r.uniform(15, 90))); rev = bool(r.integers(2))
    from scipy.signal import lfilter
    J = np.flip(I, ln) if rev else I
    tl = lfilter([1 - dec], [1, -dec], J, axis=ln).astype(np.float32)
    I = I * (1 - sm) + sm * (np.flip(tl, ln) if rev else tl)
    bl = r.uniform(0, .05)
    hot = np.maximum(I - .75, 0)
    I = I - bl * hot * .5 + bl * .5 * ndi.uniform_filter1d(hot, 9, axis=ln)
    for ch, sg in ((0, 1), (2, -1)):                          # colour rows not quite in register
        d = [0.0, 0.0]; d[mv] = sg * r.uniform(-.9, .9); d[ln] = r.uniform(-.15, .15)
        I[..., ch] = ndi.shift(I[..., ch], d, order=1, mode="nearest")
    I = ndi.gaussian_filter(I, (r.uniform(.45, .8),) * 2 + (0,))
    # response
    gain = 1 + ndi.gaussian_filter1d(r.normal(0, 1, nl), .3) * r.uniform(.0005, .003)
    for _ in range(int(r.poisson(2.5))):                      # streaks along the carriage travel
        j = int(r.integers(nl)); gain[j:j + int(r.integers(1, 4))] *= 1 - r.uniform(-.015, .05)
    lg = 1 + r.normal(0, r.uniform(.0005, .004), nm)
    lg *= 1 + r.uniform(0, .002) * np.sin(np.arange(nm) * r.uniform(.2, 1.2))
    colour = np.array([r.uniform(.9, 1.0), 1, r.uniform(.86, 1.0)])
    full = r.uniform(.7, .965)
    I = I * onl(gain).astype(np.float32) * onm(lg).astype(np.float32) * (full * colour).astype(np.float32)
    dark = r.uniform(.0005, .006) * (1 + r.uniform(-.1, .1, 3))
    fix = onl(r.normal(0, r.uniform(.00002, .00012), nl)).astype(np.float32)
    noise = r.standard_normal(I.shape, dtype=np.float32)
    I = I + noise * np.sqrt(np.maximum(I, 0) * r.uniform(2e-6, 1.2e-5) + r.uniform(4e-5, 1.6e-4) ** 2)
    I = np.clip(I + dark.astype(np.float32) + fix, 0, 1)
    stem = os.path.join(out_folder, f"S_{seed:05d}_{strip_kind}_{file_kind}")
    path, enc = write_file(r, I, file_kind, stem)
    t = truth_of(pl, W, H)
    t = dict(files=[os.path.basename(path)], **t, strip_kind=strip_kind, file_kind=file_kind, exposure_times=[None],
             note="; ".join([f"format {film['fmt']}", f"order {film['order']}", f"surround: {surround}", f"turn {turn} skew {skew:.2f}"] + note),
             size=[W, H], base=round(float(film["base"]), 4), border_density=round(float(film["border"]), 4),
             bar_density=None if film["bar"] is None else round(float(film["bar"]), 4), tint_rgb=[round(float(x), 4) for x in film["tint"]],
             encoding=enc, flare=round(float(f), 4), dark_offset=[round(float(d), 5) for d in dark], open_level=round(float(full), 4),
             ccd_line_axis="y" if ln == 0 else "x", other_strips=[truth_of(p, W, H) for p in others])
    with open(stem + ".json", "w") as fh: json.dump(t, fh, indent=1)
    return t


def main():
    ap = argparse.ArgumentParser(); ap.add_argument("out"); ap.add_argument("--n", type=int, default=20)
    ap.add_argument("--seed0", type=int, default=0); ap.add_argument("--strip"); ap.add_argument("--file")
    a = ap.parse_args()
    for i in range(a.n):
        s = a.seed0 + i
        sk = a.strip or STRIP_KINDS[s % len(STRIP_KINDS)]
        fk = a.file or FILE_KINDS[(s + s // len(STRIP_KINDS)) % len(FILE_KINDS)]
        t = make_picture(s, sk, fk, a.out); print(s, sk, fk, t["patches"], t["files"])


if __name__ == "__main__": main()
