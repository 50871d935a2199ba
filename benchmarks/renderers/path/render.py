#!/usr/bin/env python3
"""Independent renderer of photographs of film strips on a light panel (physical light path
with scattering).  See README.md.   make_picture(seed, strip_kind, file_kind, out_folder, size)"""
import argparse, json, os, struct, time, zlib
import numpy as np
from scipy import ndimage as ndi
from scipy.interpolate import PchipInterpolator
from PIL import Image, ImageDraw
from PIL.TiffImagePlugin import IFDRational
import tifffile, imagecodecs
try:
    import pillow_heif
except Exception:                                  # pragma: no cover
    pillow_heif = None

STRIP_KINDS = ["35mm", "120", "wedge", "holder", "cut_ends", "two_strips", "curled",
               "leaves_picture", "equal_steps", "merge", "tablet"]
FILE_KINDS = ["linear_tiff16", "srgb_jpeg", "s_curve_jpeg", "phone_jpeg", "bracket_s", "png16",
              "tiff16_icc"] + (["heic"] if pillow_heif else [])
LUM = np.array([0.2126, 0.7152, 0.0722], np.float32)
f32 = np.float32


# ------------------------------------------------------------------ film layout (mm)
def draw_densities(rng, n, base, order, dmax=2.9):
    lo = max(0.1, base + rng.uniform(0.0, 0.12))
    hi = rng.uniform(2.0, dmax) if rng.random() < .75 else rng.uniform(1.3, 2.0)
    style = rng.integers(3)
    if style == 0:                                  # even steps
        d = np.linspace(lo, hi, n)
    elif style == 1:                                # uneven steps
        g = rng.uniform(0.35, 1.0, n - 1)
        d = lo + (hi - lo) * np.r_[0, np.cumsum(g) / g.sum()]
    else:                                           # S-shaped, as a reversal film's curve
        t = np.linspace(-1, 1, n) * rng.uniform(1.3, 2.2)
        s = np.tanh(t); s = (s - s[0]) / (s[-1] - s[0])
        d = lo + (hi - lo) * s
    if order == "falling":
        d = d[::-1]
    elif order == "random":
        d = rng.permutation(d)
    return [float(x) for x in d]


def make_layout(rng, shape, kind):
    n = int(rng.integers(5, 25))
    order = rng.choice(["falling", "rising", "random"], p=[.4, .4, .2])
    base = float(rng.uniform(0.05, 0.35))
    S = dict(shape=shape, base=base, order=str(order), perf=False, touching=False)
    dark = float(rng.uniform(2.6, 2.95))
    clear = base + float(rng.uniform(0, .03))
    S["border_D"] = dark if rng.random() < .65 else clear
    S["bar_D"] = S["border_D"] if rng.random() < .6 else (dark if rng.random() < .5 else clear)
    tilt = 0.0
    if shape == "35mm":
        S["perf"] = True; W = 35.0; v0, v1 = 5.5, 29.5
        if n <= 7: pitch = 38.0
        elif n <= 12: pitch = 19.0 if rng.random() < .6 else rng.uniform(9, 19)
        else: pitch = rng.uniform(7.5, 14)
        gap = min(rng.uniform(0.8, 3.0), .25 * pitch); jit = .25
    elif shape == "120":
        W = 61.5; v0, v1 = 2.75, 58.75
        if n <= 6: pitch = rng.choice([44.5, 59.5])
        else: pitch = rng.uniform(190, 430) / n
        gap = min(rng.uniform(1.5, 7), .28 * pitch); jit = .4
    else:                                           # wedge
        W = rng.uniform(10, 60)
        v0 = 0.0 if rng.random() < .5 else min(rng.uniform(.8, 4), .15 * W); v1 = W - v0
        if v0 and rng.random() < .3: v1 = W
        pitch = rng.uniform(6, 17); gap = 0.0; jit = 0.0; tilt = .03
        S["touching"] = True
    if kind == "equal_steps" and S["touching"] and rng.random() < .75:
        gap = rng.uniform(.4, .9); S["touching"] = False     # scribed lines
    lead = rng.uniform(2, 25) if shape != "wedge" else (0.0 if rng.random() < .4 else rng.uniform(1, 10))
    trail = rng.uniform(2, 25) if shape != "wedge" else (0.0 if rng.random() < .4 else rng.uniform(1, 10))
    D = draw_densities(rng, n, base, order)
    S["lead_D"] = S["trail_D"] = S["border_D"]
    if kind == "equal_steps":
        for _ in range(int(rng.integers(1, 2 + n // 8))):
            k = int(rng.integers(2, min(5, n // 2 + 1))); i = int(rng.integers(0, max(1, n - k + 1)))
            for j in range(i, min(n, i + k)): D[j] = D[i]
        # bars must be distinguishable from the equal frames in truth, not in general from all
    if kind == "merge":
        lead, trail = max(lead, rng.uniform(4, 20)), max(trail, rng.uniform(4, 20))
        S["lead_D"] = D[0]; S["trail_D"] = D[-1]
        S["border_D"] = D[0] if rng.random() < .5 else D[-1]
        m = rng.integers(3)
        if m == 0: S["bar_D"] = S["border_D"]
        if rng.random() < .35:                      # both ends equal to the border
            D[-1] = D[0]; S["trail_D"] = S["border_D"] = D[0]
    # patch rectangles along the strip
    if S["touching"] or shape == "wedge":
        w = pitch * rng.uniform(.72, 1.28, n)
        e = lead + np.r_[0, np.cumsum(w)]
        t = rng.normal(0, tilt * .5, n + 1)
        h = gap / 2
        P = [[e[i] + (h if i else 0), t[i], e[i + 1] - (h if i < n - 1 else 0), t[i + 1], D[i]] for i in range(n)]
        end = e[-1]
    else:
        P = []
        for i in range(n):
            a = lead + i * pitch + rng.normal(0, jit) * .5
            P.append([a, 0.0, a + pitch - gap, 0.0, D[i]])
        end = P[-1][2]
    L = float(end + trail)
    S["cut0"] = [0.0, rng.normal(0, .01)]; S["cut1"] = [L, rng.normal(0, .01)]
    if shape == "wedge" and lead == 0: P[0][1] = S["cut0"][1]
    if shape == "wedge" and trail == 0: P[-1][3] = S["cut1"][1]
    if kind == "cut_ends":
        for e in (0, 1):
            q = P[0] if e == 0 else P[-1]; wq = q[2] - q[0]
            sl = rng.normal(0, .18)
            sl = np.clip(sl, -.6 * wq / (v1 - v0), .6 * wq / (v1 - v0))
            if rng.random() < .65:                  # cut goes through the end frame
                c = rng.uniform(.3, .6) * wq
                if e == 0: S["cut0"] = [q[0] + c, sl]; q[0], q[1] = q[0] + c, sl
                else: S["cut1"] = [q[2] - c, sl]; q[2], q[3] = q[2] - c, sl
            else:
                m = abs(sl) * W / 2 + .3
                if e == 0: S["cut0"] = [max(min(q[0] - m, 1.5), q[0] - 20), sl]
                else: S["cut1"] = [min(max(q[2] + m, L - 1.5), q[2] + 20), sl]
    a = min(S["cut0"][0], P[0][0]); b = max(S["cut1"][0], P[-1][2])
    S.update(W=float(W), L=float(b - a), v0=float(v0), v1=float(v1), n=n, gap=float(gap), pitch=float(pitch))
    for q in P: q[0] -= a; q[2] -= a
    S["cut0"][0] -= a; S["cut1"][0] -= a
    S["P"] = [[float(x) for x in q] for q in P]
    S["area"] = [S["P"][0][0], S["P"][0][1], S["P"][-1][2], S["P"][-1][3]]
    S["perf_phase"] = float(rng.uniform(0, 4.75))
    S["curl"] = [0.0, 0.0]
    if kind == "curled":
        S["curl"] = [float(rng.choice([-1, 1]) * rng.uniform(.015, .045) * S["L"]),
                     float(rng.normal(0, .008) * S["L"])]
    elif rng.random() < .3:
        S["curl"] = [float(rng.normal(0, .003) * S["L"]), 0.0]
    # tint: channel exponents (weighted mean kept at 1) and base offsets (weighted mean kept at 0)
    if rng.random() < .5:
        k = np.array([rng.normal(0, .015), 0, rng.normal(0, .025)]); b = np.array([rng.normal(0, .015), 0, rng.normal(.02, .02)])
    else:
        k = np.zeros(3); b = np.zeros(3)
    S["kc"] = (1 + k - (k * LUM).sum()).tolist(); S["bc"] = (b - (b * LUM).sum()).tolist()
    if kind == "holder":
        S["plate"] = [float(rng.uniform(6, 20)) for _ in range(4)]
        S["windows"] = "single" if (S["touching"] or S["gap"] < 1.0 or rng.random() < .45) else "each"
        if S["windows"] == "each":
            m = float(min(rng.uniform(.2, .7), .1 * S["pitch"]))
            for q in S["P"]: q[0] += m; q[2] -= m; q[1] = q[3] = 0.0
            S["v0"] += m; S["v1"] -= m
            S["win"] = [[q[0], q[2]] for q in S["P"]]
            S["winv"] = [S["v0"], S["v1"]]
        else:
            x0, x1 = rng.uniform(0, 5, 2); y = rng.uniform(-1.0, 1.5)
            S["win"] = [[S["P"][0][0] - x0, S["P"][-1][2] + x1]]
            S["winv"] = [max(.2, S["v0"] - y), min(S["W"] - .2, S["v1"] + y)]
            S["v0"] = max(S["v0"], S["winv"][0]); S["v1"] = min(S["v1"], S["winv"][1])
    return S


# ------------------------------------------------------------------ geometry
class Camera:
    """pixel (distorted) -> undistort -> un-perspective -> ideal picture px"""
    def __init__(s, w, h, k1, a, b):
        s.w, s.h, s.k1, s.a, s.b = w, h, k1, a, b
        s.cx, s.cy = (w - 1) / 2, (h - 1) / 2; s.hd = float(np.hypot(w, h) / 2)

    def to_ideal(s, px, py):
        x = (px - s.cx) / s.hd; y = (py - s.cy) / s.hd
        m = 1 + s.k1 * (x * x + y * y); x = x * m; y = y * m
        q = 1 - s.a * x - s.b * y
        return x / q * s.hd + s.cx, y / q * s.hd + s.cy

    def to_pixel(s, X, Y):
        x = (np.asarray(X, float) - s.cx) / s.hd; y = (np.asarray(Y, float) - s.cy) / s.hd
        q = 1 + s.a * x + s.b * y; x, y = x / q, y / q
        xd, yd = x.copy(), y.copy()
        for _ in range(25):
            m = 1 + s.k1 * (xd * xd + yd * yd); xd, yd = x / m, y / m
        return xd * s.hd + s.cx, yd * s.hd + s.cy


class Placed:
    """a strip placed in the ideal picture: centre (ideal px), angle, px per mm"""
    def __init__(p, S, cx, cy, th, s):
        p.S, p.cx, p.cy, p.th, p.s = S, cx, cy, th, s
        p.c, p.sn = np.cos(th), np.sin(th)

    def curl(p, u):
        t = 2 * u / p.S["L"] - 1
        return p.S["curl"][0] * (t * t - .5) + p.S["curl"][1] * (t ** 3 - t) * 2

    def to_uv(p, X, Y):
        x = (X - p.cx) / p.s; y = (Y - p.cy) / p.s
        u = x * p.c + y * p.sn + p.S["L"] / 2
        v = -x * p.sn + y * p.c + p.S["W"] / 2
        return u, v - p.curl(u)

    def to_px(p, cam, u, v):
        u = np.asarray(u, float); v = np.asarray(v, float)
        x = u - p.S["L"] / 2; y = v + p.curl(u) - p.S["W"] / 2
        return cam.to_pixel(p.cx + p.s * (x * p.c - y * p.sn), p.cy + p.s * (x * p.sn + y * p.c))

    def extent(p):
        S = p.S
        if "plate" in S: a, b, c, d = S["plate"]; return -a, S["L"] + b, -c, S["W"] + d
        return 0, S["L"], 0, S["W"]

    def outline(p, cam, grow=0.0, n=24):
        u0, u1, v0, v1 = p.extent(); g = grow
        u = np.linspace(u0 - g, u1 + g, n)
        x, y = p.to_px(cam, np.r_[u, u[::-1]], np.r_[np.full(n, v0 - g), np.full(n, v1 + g)])
        return np.c_[x, y]

    def quad(p, cam, q):
        S = p.S; vc = S["W"] / 2; a, b = S["v0"], S["v1"]
        u = [q[0] + q[1] * (a - vc), q[2] + q[3] * (a - vc), q[2] + q[3] * (b - vc), q[0] + q[1] * (b - vc)]
        x, y = p.to_px(cam, u, [a, a, b, b])
        return np.c_[x, y]


def cov(d, px):                                     # coverage from a signed distance
    return np.clip(.5 + d / px, 0, 1)


def inside(poly, w, h, m=0):
    return (poly[:, 0] > m).all() and (poly[:, 0] < w - m).all() and (poly[:, 1] > m).all() and (poly[:, 1] < h - m).all()


# ------------------------------------------------------------------ film transmission in the picture
def film_layer(rng, P, cam, X, Y):
    """returns film coverage a, transmission T (visual), opaque-mask coverage (holder), slices"""
    S = P.S; h, w = X.shape
    o = P.outline(cam, grow=6)
    x0, x1 = np.clip([o[:, 0].min() - 4, o[:, 0].max() + 5], 0, w).astype(int)
    y0, y1 = np.clip([o[:, 1].min() - 4, o[:, 1].max() + 5], 0, h).astype(int)
    sl = (slice(y0, y1), slice(x0, x1))
    u, v = P.to_uv(X[sl], Y[sl]); u = u.astype(f32); v = v.astype(f32)
    px = f32(1 / P.s); vc = f32(S["W"] / 2)
    c0, c1 = S["cut0"], S["cut1"]
    wob = 0.0
    a = cov(u - c0[0] - c0[1] * (v - vc), px) * cov(c1[0] + c1[1] * (v - vc) - u, px) * cov(v, px) * cov(S["W"] - v, px)
    T = np.full(u.shape, 10 ** -S["border_D"], f32)
    A = S["area"]
    for lead, D in ((True, S["lead_D"]), (False, S["trail_D"])):
        if D != S["border_D"]:
            k = cov((A[0] - u) if lead else (u - A[2]), px)
            T = T * (1 - k) + k * f32(10 ** -D)
    inv = cov(v - S["v0"], px) * cov(S["v1"] - v, px)
    if S["bar_D"] != S["border_D"] and not S["touching"]:
        k = inv * cov(u - A[0], px) * cov(A[2] - u, px)
        T = T * (1 - k) + k * f32(10 ** -S["bar_D"])
    for i, q in enumerate(S["P"]):
        pad = 2 * px if (S["touching"] and i < S["n"] - 1) else 0
        qq = P.quad(cam, [q[0], q[1], q[2] + pad, q[3], 0])
        a0, a1 = np.clip([qq[:, 0].min() - 6 - x0, qq[:, 0].max() + 7 - x0], 0, u.shape[1]).astype(int)
        b0, b1 = np.clip([qq[:, 1].min() - 6 - y0, qq[:, 1].max() + 7 - y0], 0, u.shape[0]).astype(int)
        if a1 <= a0 or b1 <= b0: continue
        if abs(S["curl"][0]) + abs(S["curl"][1]) > 0:
            b0, b1 = max(0, b0 - 20), b1 + 20; a0, a1 = max(0, a0 - 20), a1 + 20
        s2 = (slice(b0, b1), slice(a0, a1)); uu, vv = u[s2], v[s2]
        k = inv[s2] * cov(uu - q[0] - q[1] * (vv - vc), px) * cov(q[2] + pad + q[3] * (vv - vc) - uu, px)
        T[s2] = T[s2] * (1 - k) + k * f32(10 ** -q[4])
    # edge marks (frame numbers, bar codes) in the border
    if S["shape"] != "wedge" and rng.random() < .75:
        im = Image.new("L", (x1 - x0, y1 - y0), 0); dr = ImageDraw.Draw(im)
        for side in (0, 1):
            zone = (.35, 1.7) if S["perf"] else (.5, 2.2)
            for q in S["P"]:
                if rng.random() < .35: continue
                uu = q[0] + rng.uniform(0, .5) * (q[2] - q[0])
                for _ in range(int(rng.integers(2, 7))):
                    wd = rng.uniform(.3, .9); va, vb = zone[0], rng.uniform(.7, 1) * zone[1]
                    if side: va, vb = S["W"] - va, S["W"] - vb
                    xx, yy = P.to_px(cam, [uu, uu + wd, uu + wd, uu], [va, va, vb, vb])
                    dr.polygon([(a_ - x0, b_ - y0) for a_, b_ in zip(xx, yy)], fill=255); uu += wd + .5
        k = np.asarray(im, f32) / 255
        Dm = S["base"] + .1 if S["border_D"] > 1.2 else 1.8
        T = T * (1 - k) + k * f32(10 ** -Dm)
    # processing unevenness and grain, dust, scratches, fingerprints: as density changes
    lo = ndi.zoom(rng.normal(0, 1, (6, 9)).astype(f32), (u.shape[0] / 6, u.shape[1] / 9), order=1)
    lo = lo[:u.shape[0], :u.shape[1]]
    dD = lo * f32(rng.uniform(0, .006)) * np.sqrt(np.maximum(-np.log10(T + 1e-6), .02))
    g = rng.standard_normal(u.shape, dtype=f32) * f32(rng.uniform(.002, .010))
    dD += g * np.sqrt(np.maximum(-np.log10(T + 1e-6), .02))
    if rng.random() < .6:                           # scratches along the film
        im = Image.new("L", (x1 - x0, y1 - y0), 0); dr = ImageDraw.Draw(im)
        for _ in range(int(rng.integers(1, 9))):
            vv = rng.uniform(0, S["W"]); ua = rng.uniform(-.1, .8) * S["L"]; ub = ua + rng.uniform(.05, .6) * S["L"]
            uu = np.linspace(ua, ub, 12); xx, yy = P.to_px(cam, np.clip(uu, 0, S["L"]), vv + np.cumsum(rng.normal(0, .05, 12)))
            dr.line([(a_ - x0, b_ - y0) for a_, b_ in zip(xx, yy)], fill=int(rng.integers(60, 255)), width=1)
        dD += ndi.gaussian_filter(np.asarray(im, f32) / 255, .5) * f32(rng.choice([-.12, .08, -.3], p=[.4, .4, .2]))
    if rng.random() < .4:                           # fingerprint
        for _ in range(int(rng.integers(1, 3))):
            uc, vc_ = rng.uniform(0, S["L"]), rng.uniform(0, S["W"]); r = rng.uniform(5, 9); an = rng.uniform(0, 3)
            du, dv = u - uc, v - vc_
            e = np.exp(-((du * np.cos(an) + dv * np.sin(an)) ** 2 + ((dv * np.cos(an) - du * np.sin(an)) / 1.4) ** 2) / r ** 2 * 1.5)
            rad = np.hypot(du + 2, dv * .8)
            dD += (e * (.5 + .5 * np.sin(rad * 2 * np.pi / .55)) * f32(rng.uniform(.01, .05))).astype(f32)
    T = T * np.exp(-2.302585 * dD)
    if S["perf"]:
        ph = np.mod(u - S["perf_phase"], 4.75) - f32(2.375)
        hl = np.zeros_like(u)
        for vcen in (2.0 + 1.4, S["W"] - 3.4):      # rounded rectangles 1.98 x 2.79
            qx = np.abs(ph) - (.99 - .4); qy = np.abs(v - f32(vcen)) - (1.395 - .4)
            d = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0)) + np.minimum(np.maximum(qx, qy), 0) - .4
            hl = np.maximum(hl, cov(-d, px))
        a = a * (1 - hl)
    m = None
    if "plate" in S:
        e = P.extent()
        m = cov(u - e[0], px) * cov(e[1] - u, px) * cov(v - e[2], px) * cov(e[3] - v, px)
        wv = cov(v - S["winv"][0], px) * cov(S["winv"][1] - v, px)
        for wa, wb in S["win"]:
            m = m * (1 - wv * cov(u - wa, px) * cov(wb - u, px))
    # thin bright/dark line where the cut film edge refracts
    edge = np.exp(-(np.minimum(np.abs(v), np.abs(S["W"] - v)) / (.12 + px * .4)) ** 2) * a
    T = T * (1 - f32(rng.uniform(0, .5)) * edge)
    return sl, a, T, m, u, v


# ------------------------------------------------------------------ scene
def smooth_field(rng, h, w, amp, n=3):
    yy = np.linspace(-1, 1, h // 8, dtype=f32)[:, None]; xx = np.linspace(-1, 1, w // 8, dtype=f32)[None]
    f = np.zeros((h // 8, w // 8), f32)
    for _ in range(n):
        kx, ky = rng.normal(0, 1.2, 2); f += f32(rng.normal()) * np.cos(kx * xx + ky * yy + f32(rng.uniform(0, 6.28)))
    c = rng.normal(0, .4, 2); f -= f32(rng.uniform(0, 2)) * ((xx - f32(c[0])) ** 2 + (yy - f32(c[1])) ** 2)
    f -= (f.max() + f.min()) / 2
    f = (f / f32(max(np.abs(f).max(), 1e-6)) * f32(amp)).astype(f32)
    return np.asarray(Image.fromarray(f).resize((w, h), Image.BICUBIC))


def draw_objects(rng, w, h, keep, panel_poly):
    """hand, pen, coin, paper as opaque shapes that do not touch the strip; list of (mask, rgb reflectance, glow)"""
    out = []
    for kind in rng.choice(["hand", "pen", "coin", "paper", "none", "none"], size=int(rng.integers(1, 4)), replace=False):
        if kind == "none": continue
        for _try in range(8):
            im = Image.new("L", (w // 2, h // 2), 0); dr = ImageDraw.Draw(im); W2, H2 = w / 2, h / 2
            side = rng.integers(4); t = rng.uniform(.1, .9)
            ex, ey = [(t * W2, 0), (W2, t * H2), (t * W2, H2), (0, t * H2)][side]
            inw = [np.pi / 2, np.pi, -np.pi / 2, 0][side] + rng.normal(0, .35)
            if kind == "hand":
                sz = rng.uniform(.05, .09) * W2
                px_, py_ = ex - np.cos(inw) * sz * .6, ey - np.sin(inw) * sz * .6
                dr.ellipse([px_ - 1.5 * sz, py_ - 1.5 * sz, px_ + 1.5 * sz, py_ + 1.5 * sz], fill=255)
                for j in range(4):
                    an = inw + (j - 1.5) * .24 + rng.normal(0, .04); ln = sz * rng.uniform(2.2, 3.4)
                    qx, qy = px_ + np.cos(an) * ln, py_ + np.sin(an) * ln; r = sz * .34
                    dr.line([(px_, py_), (qx, qy)], fill=255, width=int(2 * r)); dr.ellipse([qx - r, qy - r, qx + r, qy + r], fill=255)
                col = np.array([.55, .36, .27]) * rng.uniform(.5, 1.2); glow = .02
            elif kind == "pen":
                cx, cy = rng.uniform(0, W2), rng.uniform(0, H2); an = rng.uniform(0, np.pi); ln = .3 * W2
                dr.line([(cx - np.cos(an) * ln / 2, cy - np.sin(an) * ln / 2), (cx + np.cos(an) * ln / 2, cy + np.sin(an) * ln / 2)], fill=255, width=int(.011 * W2 + 2))
                col = rng.uniform(.03, .6, 3); glow = 0
            elif kind == "coin":
                cx, cy = rng.uniform(0, W2), rng.uniform(0, H2); r = rng.uniform(.02, .05) * W2
                dr.ellipse([cx - r, cy - r, cx + r, cy + r], fill=255); col = np.array([.5, .42, .3]); glow = 0
            else:
                cx, cy = ex, ey; an = rng.uniform(0, np.pi); a, b = rng.uniform(.05, .16, 2) * W2
                R = np.array([[np.cos(an), -np.sin(an)], [np.sin(an), np.cos(an)]])
                q = np.array([[-a, -b], [a, -b], [a, b], [-a, b]]) @ R.T + [cx, cy]
                dr.polygon([tuple(z) for z in q], fill=255); col = np.array([.8, .78, .72]); glow = .12
            m = np.asarray(im)
            if (m[keep] > 0).any(): continue
            out.append((ndi.gaussian_filter(np.asarray(im.resize((w, h), Image.BICUBIC), f32) / 255, 1.4), col.astype(f32), glow, str(kind)))
            break
    return out


def lowblur(E, sig, k):
    """wide Gaussian at 1/k resolution"""
    h, w = E.shape[:2]; H, W = -(-h // k) * k, -(-w // k) * k
    p = np.pad(E, ((0, H - h), (0, W - w), (0, 0)), mode="edge")
    s = p.reshape(H // k, k, W // k, k, -1).mean((1, 3))
    s = ndi.gaussian_filter(s, (sig / k, sig / k, 0), mode="nearest", truncate=3)
    out = np.empty_like(E)
    for c in range(E.shape[2]):
        im = Image.fromarray(np.ascontiguousarray(s[..., c])).resize((W, H), Image.BILINEAR)
        out[..., c] = np.asarray(im)[:h, :w]
    return out


def lay_card(rng, free, reach):
    """coverage of an opaque piece on the widest free place, None where none is wide enough; drawn from a generator of its own"""
    depth = ndi.distance_transform_edt(np.pad(free, 1))[1:-1, 1:-1]
    y, x = np.unravel_index(int(np.argmax(depth)), depth.shape)
    half = min(.66 * depth[y, x], reach * rng.uniform(.5, 1))
    if half < 8: return None
    a = rng.normal(0, .2); c, s = np.cos(a), np.sin(a)
    q = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half * [1, rng.uniform(.6, 1)]
    im = Image.new("L", free.shape[::-1], 0)
    ImageDraw.Draw(im).polygon([(x + c * u - s * v, y + s * u + c * v) for u, v in q], fill=255)
    return ndi.gaussian_filter(np.asarray(im, f32) / 255, .5)


def build_scene(rng, strip_kind, w, h, card=None):
    """linear optical image E (open panel ~1), plus truth"""
    shapes = {"35mm": ["35mm"], "120": ["120"], "wedge": ["wedge"], "holder": ["35mm", "120"]}.get(strip_kind, ["35mm", "35mm", "120", "wedge"])
    if strip_kind == "merge": shapes = ["35mm", "120", "wedge"]
    S = make_layout(rng, str(rng.choice(shapes)), strip_kind)
    strips = [S]
    if strip_kind == "two_strips":
        for _ in range(40):
            S2 = make_layout(rng, str(rng.choice([S["shape"], "35mm", "wedge"])), "plain")
            if .6 < S2["L"] / S["L"] < 1.6: break
        strips.append(S2)
    hd = np.hypot(w, h) / 2
    cam = Camera(w, h, float(rng.uniform(-.05, .07)), float(rng.normal(0, .035)), float(rng.normal(0, .035)))
    # angle: near the axes, or anything
    r = rng.random()
    th = np.deg2rad(rng.choice([0, 90, 180, 270], p=[.4, .1, .3, .2]) + rng.normal(0, 4) if r < .6 else rng.uniform(0, 360))
    frac = rng.uniform(.25, .85)
    Lm = min(s["L"] + (sum(s.get("plate", [0, 0])[:2])) for s in strips)
    # a long, slim strip with many patches must not have patches of a few px
    minpitch = min(min(q[2] - q[0] for q in s["P"]) for s in strips)
    s_ = max(frac * max(w, h) / Lm, 9 / minpitch)
    gap2 = rng.uniform(4, 25); d2 = rng.normal(0, .03); par = rng.uniform(-.1, .1)
    ok = False
    pl = []
    for it in range(60):
        def place(cx, cy):
            if len(strips) == 1: return [Placed(S, cx, cy, th, s_)]
            off = (strips[0]["W"] / 2 + gap2 / 2 + abs(d2) * Lm / 3 + sum(map(abs, strips[0]["curl"]))), (strips[1]["W"] / 2 + gap2 / 2 + abs(d2) * Lm / 3)
            n = np.array([-np.sin(th), np.cos(th)]); t = np.array([np.cos(th), np.sin(th)])
            tot = off[0] + off[1]
            o0 = -n * s_ * tot / 2; o1 = n * s_ * tot / 2 + t * par * s_ * Lm
            return [Placed(strips[0], cx + o0[0], cy + o0[1], th, s_), Placed(strips[1], cx + o1[0], cy + o1[1], th + d2, s_)]
        if strip_kind == "leaves_picture":
            out = rng.uniform(.1, .35); e = rng.choice([-1, 1]); dx, dy = e * np.cos(th), e * np.sin(th)
            bx, by = w * rng.uniform(.35, .65), h * rng.uniform(.35, .65)
            tt = min(((w - bx) if dx > 0 else -bx) / dx if abs(dx) > 1e-6 else 1e9, ((h - by) if dy > 0 else -by) / dy if abs(dy) > 1e-6 else 1e9)
            hx, hy = bx + tt * dx, by + tt * dy
            m = (.5 - out) * S["L"] * s_
            pl = place(hx - dx * m, hy - dy * m)
            o = pl[0].outline(cam); ua = 0 if e > 0 else S["L"]
            xx, yy = pl[0].to_px(cam, [ua, ua], [0, S["W"]])
            if inside(np.c_[xx, yy], w, h, 12): ok = True; break
            s_ *= .95; continue
        sx, sy = rng.uniform(-.5, .5, 2)
        q = np.vstack([p.outline(cam) for p in place(w / 2, h / 2)])
        bw, bh = np.ptp(q[:, 0]), np.ptp(q[:, 1])
        mrg = .05 * min(w, h)
        if bw > w - 2 * mrg or bh > h - 2 * mrg:
            s_ *= max(.8, .98 * min((w - 2 * mrg) / bw, (h - 2 * mrg) / bh)); continue
        qc = (q.min(0) + q.max(0)) / 2
        pl = place(w / 2 + (w / 2 - qc[0]) + sx * (w - 2 * mrg - bw), h / 2 + (h / 2 - qc[1]) + sy * (h - 2 * mrg - bh))
        if all(inside(p.outline(cam), w, h, 8) for p in pl): ok = True; break
        if it % 8 == 7: s_ *= .95
    if not ok: raise RuntimeError("no placement")
    if len(pl) == 2:                                # first = nearest the top/left corner
        pl.sort(key=lambda p: float(np.hypot(*p.outline(cam).mean(0)))); 
    # ---- pixel grids
    py, px = np.mgrid[0:h, 0:w].astype(f32)
    X, Y = cam.to_ideal(px, py); X = X.astype(f32); Y = Y.astype(f32)
    mmpx = 1 / s_
    # ---- panel: rectangle (mm) rotated a little against the picture, contains the strips
    tp = th + rng.normal(0, .06) if rng.random() < .5 else rng.normal(0, .06)
    c, sn = np.cos(tp), np.sin(tp)
    pts = np.vstack([p.outline(cam) for p in pl]); ix, iy = cam.to_ideal(pts[:, 0], pts[:, 1])
    a = ((ix - w / 2) * c + (iy - h / 2) * sn) * mmpx; b = (-(ix - w / 2) * sn + (iy - h / 2) * c) * mmpx
    big = rng.random() < .3
    mg = rng.uniform(8, 45, 4) + (400 if big else 0)
    if strip_kind == "tablet": mg = rng.uniform(6, 30, 4)
    r = [float(z) for z in (a.min() - mg[0], a.max() + mg[1], b.min() - mg[2], b.max() + mg[3])]
    mmpx = float(mmpx)
    pa = ((X - f32(w / 2)) * f32(c) + (Y - f32(h / 2)) * f32(sn)) * f32(mmpx)
    pb = (-(X - f32(w / 2)) * f32(sn) + (Y - f32(h / 2)) * f32(c)) * f32(mmpx)

    def rrect(g, rad):
        qx = np.maximum(r[0] - g - pa, pa - r[1] - g) + rad; qy = np.maximum(r[2] - g - pb, pb - r[3] - g) + rad
        d = np.hypot(np.maximum(qx, 0), np.maximum(qy, 0)) + np.minimum(np.maximum(qx, qy), 0) - rad
        return cov(-d, f32(mmpx)), d
    rad = rng.uniform(.3, 4) if strip_kind != "tablet" else rng.uniform(2, 7)
    lit, dist = rrect(0, rad)
    bez_w = rng.uniform(4, 22)
    bez, _ = rrect(bez_w, rad + bez_w * .6)
    uneven = smooth_field(rng, h, w, rng.uniform(.03, .15))
    L0 = (1 + uneven)
    L0 *= 1 - f32(rng.uniform(0, .12)) * np.exp(np.clip(dist, -200, 0) / f32(rng.uniform(5, 18)))   # edge fall-off
    pc = np.array([rng.normal(0, .02), 0, rng.normal(0, .03)], f32)         # panel colour, smooth colour drift
    drift = smooth_field(rng, h, w, rng.uniform(0, .02))
    # ---- film stack
    Tfull = np.ones((h, w), f32); cover = np.zeros((h, w), f32); mask = np.zeros((h, w), f32)
    T3 = np.ones((h, w, 3), f32); label = []
    uvs = []
    for p in pl:
        sl, a_, T, m, u, v = film_layer(rng, p, cam, X, Y)
        for ch in range(3):
            tc = T ** f32(p.S["kc"][ch]) * f32(10 ** -p.S["bc"][ch]) if (p.S["kc"] != [1, 1, 1] or any(p.S["bc"])) else T
            T3[sl][..., ch] *= a_ * tc + (1 - a_)
        cover[sl] = np.maximum(cover[sl], a_)
        if m is not None:
            mask[sl] = m; T3[sl] *= (1 - m)[..., None]
        uvs.append((sl, u, v))
    # room light (relative to the panel's luminance), surface reflections
    room = float(np.exp(rng.uniform(np.log(5e-4), np.log(7e-2))))
    roomf = 1 + smooth_field(rng, h, w, .4)
    blob = np.exp(-(((px - rng.uniform(0, w)) / (w * rng.uniform(.05, .25))) ** 2 + ((py - rng.uniform(0, h)) / (h * rng.uniform(.05, .25))) ** 2))
    roomf = roomf + blob.astype(f32) * f32(rng.uniform(0, 2) if rng.random() < .4 else 0)
    Rp = rng.uniform(.15, .5)
    # interreflection film <-> panel: film's back reflects light to the panel, which sends part back
    Rf = (cover * (.045 + .03 * T3[..., 1]) + mask * .06).astype(f32)
    gapmm = rng.uniform(.3, 3)
    inter = 1 + f32(Rp) * lowblur(Rf[..., None], max(1.0, gapmm / mmpx), 2)[..., 0]
    panelL = (L0 * inter)[..., None] * (1 + pc + np.array([1, 0, -1], f32) * drift[..., None])
    flat = L0[..., None] * (1 + pc + np.array([1, 0, -1], f32) * drift[..., None])
    moire = None
    if strip_kind == "tablet":
        pp = rng.uniform(.075, .13)
        if rng.random() < .65:                      # pixel grid nearly commensurate with the sensor: visible moire bands
            pp = mmpx / (max(1, round(mmpx / pp)) + rng.choice([-1, 1]) * rng.uniform(.012, .12))
        amp = float(rng.uniform(.008, .06)); pp = float(pp)
        mofield = np.zeros((h, w, 3), f32)
        for ch in range(3):
            mo = np.cos(2 * np.pi * (pa / f32(pp)) + f32(2 * np.pi * ch / 3)) + .7 * np.cos(2 * np.pi * (pb / f32(pp)))
            mo += .3 * np.cos(4 * np.pi * (pa / f32(pp)) + f32(4 * np.pi * ch / 3))
            mofield[..., ch] = (f32(amp) * mo * .6).astype(f32)
        moire = float(amp)
    if rng.random() < .15 or (strip_kind == "tablet" and rng.random() < .4):   # rolling-shutter bands of a pulsed lamp
        bnd = 1 + f32(rng.uniform(.003, .015)) * np.sin(2 * np.pi * (py + 0) / f32(rng.uniform(60, 300)) + f32(rng.uniform(0, 6)))
        panelL *= bnd[..., None]
    light = panelL + (room * Rp * roomf)[..., None] * T3            # room light through film, back from the panel
    E = light * T3
    surf = cover * rng.uniform(.02, .05) + mask * rng.uniform(.02, .12) + (1 - np.maximum(cover, mask)) * .04
    E += (room * roomf * surf)[..., None]
    # table, bezel
    tab = np.array(rng.choice([[.45, .3, .18], [.3, .3, .3], [.08, .08, .09], [.7, .68, .62], [.2, .28, .22]]), f32) * rng.uniform(.6, 1.2)
    grain = ndi.zoom(rng.normal(0, 1, (h // 6 + 1, w // 40 + 1)).astype(f32), (6, 40), order=1)[:h, :w]
    table = tab * (room * roomf * (1 + .12 * grain))[..., None].clip(0)
    spill = np.exp(-np.clip(dist, 0, 500) / f32(rng.uniform(8, 30))) * f32(rng.uniform(.002, .03))
    table += tab * spill[..., None]
    bz = np.array([1, 1, 1], f32) * (rng.uniform(.03, .1) if rng.random() < .6 or strip_kind == "tablet" else rng.uniform(.4, .8))
    bezel = bz * (room * roomf + spill * .3)[..., None]
    outer = table * (1 - bez)[..., None] + bezel * bez[..., None]
    E = outer * (1 - lit)[..., None] + E * lit[..., None]
    # ---- things lying around; dust and hairs
    keep = Image.new("L", (w // 2, h // 2), 0); dr = ImageDraw.Draw(keep)
    for p in pl: dr.polygon([tuple(z / 2) for z in p.outline(cam, grow=3)], fill=255)
    keepm = np.asarray(keep) > 0
    objs = draw_objects(rng, w, h, keepm, None) if rng.random() < .6 else []
    for m, col, glow, _ in objs:
        refl = col * (room * roomf)[..., None] + glow * lit[..., None] * np.array([1, .35, .2] if glow < .1 else [1, .95, .85], f32) * flat
        E = E * (1 - m)[..., None] + refl * m[..., None]
    laid = None
    if card is not None:                            # an opaque piece of dark card, lit by the room alone
        free = (lit > .99) & (cover < .01) & (mask < .01)
        for o in objs: free &= o[0] < .01
        laid = lay_card(card, free, .04 * max(w, h))
        if laid is not None:
            E = E * (1 - laid)[..., None] + (f32(card.uniform(.03, .2)) * room * roomf * laid)[..., None]
            objs = objs + [(laid, None, 0, "card")]
    im = Image.new("L", (w, h), 0); dr = ImageDraw.Draw(im)
    nd = int(rng.integers(0, 120))
    for _ in range(nd):
        x, y = rng.uniform(0, w), rng.uniform(0, h); q = rng.uniform(.3, 1.6) * (3 if rng.random() < .04 else 1)
        dr.ellipse([x - q, y - q, x + q, y + q * rng.uniform(.6, 1.4)], fill=int(rng.integers(60, 230)))
    for _ in range(int(rng.integers(0, 5))):
        x, y = rng.uniform(0, w), rng.uniform(0, h); an = rng.uniform(0, 6.28); pt = []
        for j in range(14): pt.append((x, y)); an += rng.normal(0, .35); x += 5 * np.cos(an); y += 5 * np.sin(an)
        dr.line(pt, fill=int(rng.integers(90, 220)), width=1)
    dust = ndi.gaussian_filter(np.asarray(im, f32) / 255, .45)
    E *= (1 - .85 * dust)[..., None]
    # ---- lens: natural vignetting, defocus, long-tailed scatter, veil
    hf = np.deg2rad(rng.uniform(14, 31)); corr = rng.uniform(.3, 1)
    r2 = ((px - cam.cx) ** 2 + (py - cam.cy) ** 2) / f32(cam.hd ** 2)
    vig = (1 + r2 * f32(np.tan(hf) ** 2)) ** f32(-2 * corr)
    E *= vig[..., None]; flat = flat * vig[..., None]
    E = E.astype(f32)
    sig = rng.uniform(.5, 1.5) * (1.6 if rng.random() < .12 else 1)
    sharpE = E
    E = ndi.gaussian_filter(E, (sig, sig, 0), truncate=3.2)
    if moire:                                       # aliased by the sensor's sampling: not softened by the lens afterwards
        k = lit * lit
        for o in objs: k = k * (1 - o[0])
        E *= 1 + mofield * k[..., None].astype(f32)
    hal = float(np.exp(rng.uniform(np.log(6e-4), np.log(1.2e-2)))); veil = float(np.exp(rng.uniform(np.log(2e-4), np.log(5e-3))))
    wts = np.array([.4, .3, .3]) * rng.uniform(.5, 1.5, 3); wts /= wts.sum()
    G = np.zeros_like(E)
    for wt, s2, k in zip(wts, (6, 35, 160), (2, 8, 16)): G += f32(wt) * lowblur(sharpE, s2 * max(w, h) / 1800, k)
    E = E * f32(1 - hal - veil) + f32(hal) * G + f32(veil) * E.mean((0, 1))
    # ---- truth
    def describe(p):
        S = p.S; polys = []; dens = []; drgb = []; app = []; vis = []; part = []
        for q in S["P"]:
            qd = p.quad(cam, q)
            g = np.linspace(.12, .88, 9); U, V = np.meshgrid(g, g)
            pt = ((1 - U) * (1 - V))[..., None] * qd[0] + (U * (1 - V))[..., None] * qd[1] + (U * V)[..., None] * qd[2] + ((1 - U) * V)[..., None] * qd[3]
            pt = pt.reshape(-1, 2); okp = (pt[:, 0] > 0) & (pt[:, 0] < w - 1) & (pt[:, 1] > 0) & (pt[:, 1] < h - 1)
            f = float(okp.mean()); D = q[4]
            rgb = [D * k + b for k, b in zip(S["kc"], S["bc"])]
            rec = dict(poly=np.round(qd, 2).tolist(), D=round(D, 4), rgb=[round(z, 4) for z in rgb], vis=round(f, 3))
            if f < .5:
                part.append(rec); continue
            xi, yi = np.round(pt[okp]).astype(int).T
            e = np.median(E[yi, xi], 0) @ LUM; f0 = np.median(flat[yi, xi], 0) @ LUM
            polys.append(rec["poly"]); dens.append(rec["D"]); drgb.append(rec["rgb"]); vis.append(rec["vis"])
            app.append(round(float(-np.log10(max(e / f0, 1e-6))), 4))
        P0, P1 = polys[0], polys[-1]
        return dict(patches=len(polys), densities=dens, corners=[P0[0], P1[1], P1[2], P0[3]], patch_polygons=polys,
                    densities_rgb=drgb, apparent_densities=app, visible_fraction=vis, patches_on_film=S["n"], partial_patches=part,
                    shape=S["shape"], order=S["order"], base_density=round(S["base"], 4), border_density=round(S["border_D"], 4),
                    bar_density=None if S["touching"] else round(S["bar_D"], 4), touching=S["touching"],
                    holder_windows=S.get("windows"), outline=np.round(p.outline(cam, n=16), 1).tolist(),
                    px_per_mm=round(p.s, 3), angle_deg=round(float(np.rad2deg(p.th) % 360), 2),
                    length_fraction=round(p.s * S["L"] / max(w, h), 3))
    truth = describe(pl[0])
    if len(pl) > 1: truth["other_strips"] = [describe(p) for p in pl[1:]]
    truth["optics"] = dict(room_light=room, halo=hal, veil=veil, defocus_px=round(sig, 2), k1=round(cam.k1, 4),
                           perspective=[round(cam.a, 4), round(cam.b, 4)], vignetting_corner=round(float(vig.min()), 3), moire=moire)
    truth["things"] = [o[3] for o in objs]
    litm = (lit > .99) & (cover < .01) & (mask < .01)
    for o in objs: litm &= o[0] < .01
    return E, truth, litm


# ------------------------------------------------------------------ sensor
class Sensor:
    def __init__(s, rng, shape):
        s.ch = np.array([rng.uniform(.45, .65), 1, rng.uniform(.5, .75)], f32)
        s.fw = float(np.exp(rng.uniform(np.log(6e3), np.log(4.5e4)))); s.read = rng.uniform(1.5, 6)
        s.prnu = 1 + f32(rng.uniform(.002, .007)) * rng.standard_normal(shape, dtype=f32)
        s.tint = np.array([1 + rng.normal(0, .015), 1, 1 + rng.normal(0, .02)], f32)
        s.black = rng.normal(0, 1.0) / s.fw

    def shoot(s, rng, E, expo):
        h, w = E.shape[:2]
        M = np.empty((h, w), f32); m = np.zeros((h, w, 3), bool)
        for c, ys, xs in ((0, 0, 0), (1, 0, 1), (1, 1, 0), (2, 1, 1)):
            M[ys::2, xs::2] = E[ys::2, xs::2, c] * (s.ch[c] * expo)
        M = M * s.prnu
        M += np.sqrt(np.maximum(M, 0) / f32(s.fw) + f32((s.read / s.fw) ** 2)) * rng.standard_normal((h, w), dtype=f32)
        M = np.clip(M + s.black, -.02, 1.0)
        out = np.zeros((h, w, 3), f32)
        kg = np.array([[0, 1, 0], [1, 4, 1], [0, 1, 0]], f32) / 4; k1 = np.array([.5, 1, .5], f32)
        for c in range(3):
            z = np.zeros((h, w), f32)
            if c == 0: z[0::2, 0::2] = M[0::2, 0::2]
            elif c == 2: z[1::2, 1::2] = M[1::2, 1::2]
            else: z[0::2, 1::2] = M[0::2, 1::2]; z[1::2, 0::2] = M[1::2, 0::2]
            if c == 1: z = ndi.convolve(z, kg, mode="mirror")
            else: z = ndi.convolve1d(ndi.convolve1d(z, k1, 0, mode="mirror"), k1, 1, mode="mirror")
            out[..., c] = z / s.ch[c] * s.tint[c]
        return np.clip(out, 0, 1)


# ------------------------------------------------------------------ tone
def srgb(x):
    x = np.clip(x, 0, 1); return np.where(x <= .0031308, 12.92 * x, 1.055 * np.power(np.maximum(x, 1e-9), 1 / 2.4) - .055)


def s_curve(rng):
    """returns name, function linear 0..1 -> code 0..1 (monotone, 0->0, 1->1)"""
    k = int(rng.integers(6)); x = np.linspace(0, 1, 4097)
    if k == 0:   a = rng.uniform(.3, .9); y = srgb(x); y = (1 - a) * y + a * y * y * (3 - 2 * y); nm = "smoothstep_on_srgb"
    elif k == 1:                                    # toe/shoulder rational film-like curve
        g = rng.uniform(2, 6); f = lambda z: (z * (.15 * z + .05) + .002) / (z * (.15 * z + .5) + .06) - .002 / .06
        y = srgb(f(x * g) / f(g)); nm = "rational_toe_shoulder"
    elif k == 2:                                    # sigmoid in log exposure
        c = rng.uniform(1.1, 1.7); m = rng.uniform(.12, .22); y = x ** c / (x ** c + m ** c); y = y / y[-1]; y = y ** (rng.uniform(.8, 1.0)); nm = "log_sigmoid"
    elif k == 3:                                    # hand-drawn points over sRGB
        d = rng.uniform(.02, .07); u = rng.uniform(.02, .08)
        p = PchipInterpolator([0, .12, .3, .5, .75, .92, 1], [0, .12 - d, .3 - d * .7, .5 + .2 * u, .75 + u, .92 + u * .5, 1]); y = p(srgb(x)); nm = "points_over_srgb"
    elif k == 4:                                    # power with soft shoulder and black toe
        g = rng.uniform(.42, .5); t = rng.uniform(.003, .01); s = rng.uniform(1.5, 3)
        y = (1 - np.exp(-s * (np.maximum(x * x / (x + t), 0)))) / (1 - np.exp(-s * 1 / (1 + t))); y = np.clip(y, 0, 1) ** g; nm = "exp_shoulder_toe"
    else:                                           # logistic contrast over a 1/2.2 power
        c = rng.uniform(3, 6); m = rng.uniform(.42, .55); z = x ** (1 / 2.2); f = lambda q: 1 / (1 + np.exp(-c * (q - m)))
        y = (f(z) - f(0)) / (f(1) - f(0)); nm = "logistic_on_gamma"
    y = np.maximum.accumulate(np.clip(y, 0, 1)); y[0] = 0
    # fine sampling near black, where codes change fastest
    return nm, x, y


def apply_lut(img, x, y):
    g = np.sqrt(np.linspace(0, 1, 16385) ** 2); lut = np.interp(g * g, x, y).astype(f32)   # index by sqrt
    return lut[(np.sqrt(np.clip(img, 0, 1)) * 16384 + .5).astype(np.int32)]


def lut_truth(x, y):
    q = np.r_[0, np.logspace(-4, 0, 41)]
    return {"linear": [float(f"{v:.5g}") for v in q], "code": [float(f"{v:.5g}") for v in np.interp(q, x, y)]}


def sharpen(c, amt, rad):
    l = c @ LUM; d = l - ndi.gaussian_filter(l, rad, truncate=2.5)
    return np.clip(c + (amt * d)[..., None], 0, 1)


def denoise(c, s, thr):
    b = ndi.gaussian_filter(c, (s, s, 0), truncate=2.5)
    k = np.abs((c - b) @ LUM) / thr; k = np.clip(k - .5, 0, 1)[..., None]
    return b * (1 - k) + c * k


def local_tone(rng, img):
    l = img @ LUM; h, w = l.shape; k = 8
    ll = np.log(np.maximum(l, 1e-4))
    sm = ndi.zoom(ndi.uniform_filter(ll, k)[k // 2::k, k // 2::k], 1)
    r = int(max(4, .03 * w / k * rng.uniform(.6, 2)))
    m = ndi.uniform_filter(sm, r); v = np.maximum(ndi.uniform_filter(sm * sm, r) - m * m, 0); a = v / (v + rng.uniform(.1, .6)); b = m - a * m
    a = ndi.uniform_filter(a, r); b = ndi.uniform_filter(b, r)
    up = lambda z: np.asarray(Image.fromarray(z.astype(f32)).resize((w, h), Image.BILINEAR))
    base = up(a) * ll + up(b)
    st = rng.uniform(.08, .28)
    gain = np.clip(np.exp(-st * (base - float(np.log(.6)))), .7, 3.5)
    return np.clip(img * gain[..., None].astype(f32), 0, 1), float(st)


def icc_profile(kind, rng=None, wide=False):
    """small v2 matrix/TRC display profile. kind: gamma number or 'srgb' or 'lstar'"""
    def s15(v): return struct.pack(">i", int(round(v * 65536)))
    def tag_xyz(v): return b"XYZ \0\0\0\0" + b"".join(s15(t) for t in v)
    def desc(t):
        a = t.encode() + b"\0"; return b"desc\0\0\0\0" + struct.pack(">I", len(a)) + a + b"\0" * (4 + 4 + 2 + 1 + 67)
    x = np.linspace(0, 1, 1024)
    if isinstance(kind, float): trc = b"curv\0\0\0\0" + struct.pack(">IH", 1, int(round(kind * 256))); nm = f"own gamma {kind}"
    else:
        if kind == "srgb": y = np.where(x <= .04045, x / 12.92, ((x + .055) / 1.055) ** 2.4)
        else: L = x * 100; y = np.where(L > 8, ((L + 16) / 116) ** 3, L / 903.3)
        trc = b"curv\0\0\0\0" + struct.pack(">I", 1024) + np.round(y * 65535).astype(">u2").tobytes(); nm = f"own {kind}"
    prim = ([(.5151, .2412, -.0011), (.2920, .6922, .0419), (.1571, .0666, .7841)] if wide else
            [(.4361, .2225, .0139), (.3851, .7169, .0971), (.1431, .0606, .7141)])
    tags = [(b"desc", desc(nm)), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", tag_xyz((.9642, 1, .8249)))] + \
           [(n, tag_xyz(p)) for n, p in zip((b"rXYZ", b"gXYZ", b"bXYZ"), prim)] + [(n, trc) for n in (b"rTRC", b"gTRC", b"bTRC")]
    off = 128 + 4 + 12 * len(tags); tab = struct.pack(">I", len(tags)); body = b""; seen = {}
    for n, d in tags:
        if d in seen: o = seen[d]
        else:
            o = off + len(body); seen[d] = o; body += d + b"\0" * (-len(d) % 4)
        tab += n + struct.pack(">II", o, len(d))
    size = off + len(body)
    hdr = struct.pack(">I4sI4s4s4s", size, b"\0\0\0\0", 0x02100000, b"mntr", b"RGB ", b"XYZ ") + struct.pack(">6H", 2024, 1, 1, 0, 0, 0) + b"acsp" + b"\0" * 28 + s15(.9642) + s15(1) + s15(.8249)
    return hdr + b"\0" * (128 - len(hdr)) + tab + body


def exif_bytes(t=None, rng=None, extra=True):
    ex = Image.Exif(); sub = ex.get_ifd(0x8769)
    if t:
        sub[33434] = IFDRational(1, int(round(1 / t))) if t < .3 else IFDRational(int(round(t * 1000)), 1000)
        sub[33437] = IFDRational(18, 10); sub[34855] = 100
    ex[0x0112] = 1
    return ex.tobytes()


def save_jpeg(path, code, q, exif=None, sub=2):
    im = Image.fromarray((np.clip(code, 0, 1) * 255 + .5).astype(np.uint8))
    kw = {"exif": exif} if exif else {}
    im.save(path, quality=int(q), subsampling=sub, **kw)


def chroma_noise(rng, code, amt):
    h, w = code.shape[:2]; l = (code @ LUM)
    n = rng.standard_normal((h // 3 + 1, w // 3 + 1, 2), dtype=f32)
    n = np.stack([np.asarray(Image.fromarray(np.ascontiguousarray(n[..., i])).resize((w, h), Image.BILINEAR)) for i in (0, 1)], -1)
    k = (amt * (1.2 - l))[..., None]
    n = n * k
    return np.clip(code + np.stack([n[..., 0], -.3 * n[..., 0] - .1 * n[..., 1], n[..., 1]], -1), 0, 1)


# ------------------------------------------------------------------ one picture
def make_picture(seed, strip_kind, file_kind, out_folder, size=None, card=False):
    assert strip_kind in STRIP_KINDS, strip_kind
    assert file_kind in FILE_KINDS, file_kind
    os.makedirs(out_folder, exist_ok=True)
    rng = np.random.default_rng([int(seed), STRIP_KINDS.index(strip_kind), 77])
    if size is None:
        w, h = [(1800, 1200), (1760, 1320), (1800, 1200), (1920, 1080), (1200, 1800), (1320, 1760)][int(rng.integers(6))]
    else: w, h = size
    for _ in range(6):
        try: E, T, litm = build_scene(rng, strip_kind, w, h, np.random.default_rng([int(seed), 5]) if card else None); break
        except RuntimeError: continue
    else: raise RuntimeError("no placement found")
    rng = np.random.default_rng([int(seed), STRIP_KINDS.index(strip_kind), 99, len(file_kind), ord(file_kind[0])])
    sens = Sensor(rng, (h, w))
    lvl = np.percentile(E[litm][:, 1], 99) if litm.sum() > 50 else np.percentile(E[..., 1], 99.5)
    name = f"p{int(seed):05d}_{strip_kind}_{file_kind}"
    P = lambda s: os.path.join(out_folder, name + s)
    clipk = rng.random() < .12
    target = rng.uniform(1.02, 1.2) if clipk else rng.uniform(.55, .95)
    t0 = float(rng.choice([1 / 30, 1 / 60, 1 / 125, 1 / 250, 1 / 15, 1 / 8]))
    files = []; times = [t0]; tone = {}; note = []
    if clipk and file_kind != "bracket_s": note.append("brightest part of the panel may be clipped")
    expo = target / lvl
    xs = np.linspace(0, 1, 4097) ** 2; sy = srgb(xs)
    if file_kind != "bracket_s":
        lin = sens.shoot(rng, E, expo)
    if file_kind == "linear_tiff16":
        f = P(".tif"); files.append(f)
        tifffile.imwrite(f, (lin * 65535 + .5).astype(np.uint16), photometric="rgb", compression="deflate" if rng.random() < .4 else None)
        tone = {"kind": "linear"}
    elif file_kind == "srgb_jpeg":
        q = int(rng.integers(70, 96)); f = P(".jpg"); files.append(f)
        save_jpeg(f, apply_lut(lin, xs, sy), q, exif_bytes(t0) if rng.random() < .5 else None)
        tone = {"kind": "srgb", "quality": q}
    elif file_kind == "s_curve_jpeg":
        nm, x, y = s_curve(rng); c = denoise(apply_lut(lin, x, y), rng.uniform(.7, 1.3), rng.uniform(.01, .03))
        am, ra = rng.uniform(.3, 1.3), rng.uniform(.8, 2.2); c = sharpen(c, am, ra)
        q = int(rng.integers(80, 97)); f = P(".jpg"); files.append(f); save_jpeg(f, c, q, exif_bytes(t0) if rng.random() < .7 else None, 2 if rng.random() < .6 else 1)
        tone = {"kind": nm, "lut": lut_truth(x, y), "sharpen": [am, ra], "quality": q}
    elif file_kind in ("phone_jpeg", "heic"):
        st = 0.0
        if file_kind == "phone_jpeg" or rng.random() < .4: lin, st = local_tone(rng, lin)
        if rng.random() < .6: nm, x, y = s_curve(rng)
        else: nm, x, y = "srgb", xs, sy
        c = denoise(apply_lut(lin, x, y), rng.uniform(.8, 1.6), rng.uniform(.015, .04))
        am, ra = rng.uniform(.5, 1.6), rng.uniform(.8, 1.8); c = sharpen(c, am, ra)
        c = chroma_noise(rng, c, rng.uniform(.004, .02))
        tone = {"kind": nm, "lut": lut_truth(x, y), "local_tone_strength": st, "sharpen": [am, ra]}
        if st: note.append("local tone mapping: the tone curve varies over the picture; densities can only be approximate")
        if file_kind == "phone_jpeg":
            q = int(rng.integers(78, 96)); f = P(".jpg"); save_jpeg(f, c, q, exif_bytes(t0)); tone["quality"] = q
        else:
            f = P(".heic"); ten = rng.random() < .5; icc = icc_profile("srgb", wide=True); tone["bits"] = 10 if ten else 8
            if ten:
                d = np.ascontiguousarray((c * 65535 + .5).astype(np.uint16)); hf = pillow_heif.from_bytes("RGB;16", (w, h), d.tobytes())
            else: hf = pillow_heif.from_bytes("RGB", (w, h), (c * 255 + .5).astype(np.uint8).tobytes())
            hf.info["icc_profile"] = icc
            hf.save(f, quality=int(rng.integers(75, 95)), exif=exif_bytes(t0), enc_params={"preset": "ultrafast"})
        files.append(f)
    elif file_kind == "bracket_s":
        nm, x, y = s_curve(rng); k = int(rng.integers(3, 5)); has = rng.random() < .5
        base = rng.uniform(.5, .9) / lvl; tb = float(rng.choice([1 / 1000, 1 / 500, 1 / 250]))
        order = list(range(k)); r = rng.integers(3)
        if r == 1: order = order[::-1]
        elif r == 2: order = [1, 0] + order[2:]
        am, ra = rng.uniform(.2, 1.0), rng.uniform(.8, 1.8); nr = rng.uniform(.01, .03); q = int(rng.integers(82, 97))
        hand = rng.random() < .4; times = []; sh = []
        for i, o in enumerate(order):
            d = rng.normal(0, .7, 2) if (hand and i) else np.zeros(2)
            Ei = ndi.shift(E, (d[1], d[0], 0), order=1, mode="nearest") if hand and i else E
            c = sharpen(denoise(apply_lut(sens.shoot(rng, Ei, base * 4 ** o), x, y), .9, nr), am, ra)
            f = P(f"_{i}.jpg"); files.append(f); times.append(tb * 4 ** o); sh.append([round(float(z), 2) for z in d])
            save_jpeg(f, c, q, exif_bytes(times[-1]) if has else None)
        tone = {"kind": nm, "lut": lut_truth(x, y), "sharpen": [am, ra], "quality": q, "exif_times": bool(has), "shifts_px": sh}
        note.append("exposures two stops apart; " + ("ExposureTime in EXIF" if has else "no EXIF"))
    elif file_kind == "png16":
        g = rng.choice(["srgb", "2.2"]); y = sy if g == "srgb" else xs ** (1 / 2.2)
        b = imagecodecs.png_encode((apply_lut(lin, xs, y) * 65535 + .5).astype(np.uint16), level=1)
        ck = (b"sRGB", b"\0") if g == "srgb" else (b"gAMA", struct.pack(">I", 45455))
        mark = rng.random() < .6
        if mark: b = b[:33] + struct.pack(">I", len(ck[1])) + ck[0] + ck[1] + struct.pack(">I", zlib.crc32(ck[0] + ck[1])) + b[33:]
        f = P(".png"); files.append(f); open(f, "wb").write(b); tone = {"kind": "srgb" if g == "srgb" else "gamma2.2", "chunk": bool(mark)}
    elif file_kind == "tiff16_icc":
        g = [1.8, 2.2, 2.4, "srgb", "lstar", "pil_srgb"][int(rng.integers(6))]
        if g == "pil_srgb":
            from PIL import ImageCms
            icc = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
        else: icc = icc_profile(g)
        if isinstance(g, float): y = xs ** (256 / round(g * 256))
        elif g == "lstar": y = np.where(xs > .008856, 1.16 * np.cbrt(xs) - .16, 9.033 * xs)
        else: y = sy
        f = P(".tif"); files.append(f)
        tifffile.imwrite(f, (apply_lut(lin, xs, y) * 65535 + .5).astype(np.uint16), photometric="rgb", iccprofile=icc)
        tone = {"kind": f"icc {g}"}
    if strip_kind == "two_strips": note.append("two strips: the main truth is the strip whose centre is nearest the picture's top-left corner; the other is in other_strips")
    if strip_kind == "leaves_picture": note.append("one end outside the picture: only patches at least half inside are counted (polygons may reach outside); the others are in partial_patches")
    if strip_kind == "merge": note.append("first and last frame have the density of the leader/trailer beside them; their outer edge is not visible")
    if strip_kind == "equal_steps": note.append("several neighbouring patches have equal density")
    if T["touching"] and any(a == b for a, b in zip(T["densities"], T["densities"][1:])): note.append("equal touching steps: no visible border between them")
    out = dict(files=[os.path.basename(f) for f in files], patches=T["patches"], densities=T["densities"], corners=T["corners"],
               patch_polygons=T["patch_polygons"], strip_kind=strip_kind, file_kind=file_kind, note="; ".join(note),
               exposure_times=times, size=[w, h], seed=int(seed), tone=tone,
               open_panel_fraction=round(float(litm.mean()), 4))
    out.update({k: v for k, v in T.items() if k not in out})
    with open(P(".json"), "w") as fh: json.dump(out, fh, indent=1)
    return out


def overlay(folder, js, dest):
    """8-bit view with the truth drawn in"""
    t = json.load(open(os.path.join(folder, js))); f = os.path.join(folder, t["files"][0])
    if f.endswith(".tif"):
        a = tifffile.imread(f) / 65535.0
        if t["file_kind"] == "linear_tiff16": a = srgb(a)
    elif f.endswith(".png"): a = imagecodecs.imread(f) / 65535.0
    elif f.endswith(".heic"): a = np.asarray(pillow_heif.open_heif(f, convert_hdr_to_8bit=True).to_pillow().convert("RGB")) / 255.0
    else: a = np.asarray(Image.open(f)) / 255.0
    im = Image.fromarray((a * 255).astype(np.uint8)); plain = im.copy(); d = ImageDraw.Draw(im)
    for s, col in [(t, (255, 40, 40))] + [(o, (60, 120, 255)) for o in t.get("other_strips", [])]:
        for i, q in enumerate(s["patch_polygons"]):
            d.line([tuple(z) for z in q + q[:1]], fill=col, width=2); c = np.mean(q, 0); d.text(tuple(c - 6), str(i + 1), fill=(0, 200, 0))
        x = s["corners"][0]; d.ellipse([x[0] - 7, x[1] - 7, x[0] + 7, x[1] + 7], outline=(255, 220, 0), width=3)
    im.save(dest); return plain


def main():
    ap = argparse.ArgumentParser(); ap.add_argument("out"); ap.add_argument("--n", type=int, default=20); ap.add_argument("--seed0", type=int, default=0)
    ap.add_argument("--strip", choices=STRIP_KINDS); ap.add_argument("--file", choices=FILE_KINDS); ap.add_argument("--overlay", action="store_true")
    ap.add_argument("--size", help="WxH"); A = ap.parse_args()
    size = tuple(map(int, A.size.lower().split("x"))) if A.size else None
    for i in range(A.n):
        seed = A.seed0 + i; sk = A.strip or STRIP_KINDS[seed % len(STRIP_KINDS)]; fk = A.file or FILE_KINDS[(seed * 3 + seed // len(STRIP_KINDS)) % len(FILE_KINDS)]
        t = time.time(); o = make_picture(seed, sk, fk, A.out, size)
        if A.overlay: overlay(A.out, o["files"][0].rsplit(".", 1)[0].removesuffix("_0" if fk == "bracket_s" else "\0") + ".json", os.path.join(A.out, f"overlay_{seed:05d}.png"))
        print(seed, sk, fk, "n", o["patches"], "Dmax", max(o["densities"]), "seen", max(o["apparent_densities"]), "frac", o["length_fraction"], "open", o["open_panel_fraction"], f"{time.time() - t:.1f}s", flush=True)


if __name__ == "__main__":
    main()
