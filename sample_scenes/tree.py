"""A tree of bounding boxes: which shapes a bundle of rays may meet, found for the whole bundle at a time."""

from dataclasses import dataclass

import numpy as np

from sample_scenes.shapes import NEVER

LEAF = 3  # shapes in a leaf at most


@dataclass
class Node:
    """A box around some shapes: either a leaf with their numbers, or two halves, split along an axis."""

    low: np.ndarray
    high: np.ndarray
    shapes: tuple[int, ...] = ()
    axis: int = 0
    halves: tuple["Node", ...] = ()


def grow(low: np.ndarray, high: np.ndarray, members: np.ndarray) -> Node:
    """The tree over the boxes low, high (K, 3) of some members."""
    node = Node(low[members].min(axis=0), high[members].max(axis=0))
    if members.size <= LEAF:
        node.shapes = tuple(int(k) for k in members)
        return node
    sizes = (high - low)[members].max(axis=1)
    if sizes.max() > 0.6 * (node.high - node.low).max() and (sizes > 0.6 * sizes.max()).sum() < members.size:
        large = sizes > 0.6 * sizes.max()  # what is as large as the node itself only spoils its halves
        parts = members[large], members[~large]
    else:
        middle = (low + high)[members] / 2
        node.axis = int(np.argmax(np.ptp(middle, axis=0)))
        order = members[np.argsort(middle[:, node.axis], kind="stable")]
        parts = order[: order.size // 2], order[order.size // 2 :]
    node.halves = tuple(grow(low, high, part) for part in parts)
    return node


class Tree:
    """Finds what rays hit among shapes."""

    def __init__(self, shapes: list):
        self.shapes = shapes
        low, high = (np.array([getattr(s, end) for s in shapes], np.float32) for end in ("low", "high"))
        self.root = grow(low, high, np.arange(len(shapes)))

    def first(self, o, d) -> tuple[np.ndarray, np.ndarray]:
        """Distance (N,) to the first surface and the number of its shape; infinite and -1 where there is none."""
        best, which = np.full(o.shape[1], NEVER, np.float32), np.full(o.shape[1], -1, np.int16)
        ahead = d.mean(axis=1)
        todo = [(self.root, np.arange(o.shape[1]), bundle(o, d))]
        while todo:
            node, rays, packed = todo.pop()
            near, far = cross(node, packed)
            rays, packed = kept((near <= far) & (near < best[rays]), rays, packed)
            if not rays.size:
                continue
            for k in node.shapes:
                t = self.shapes[k].hit(packed[:3], packed[3:6])
                closer = np.flatnonzero(t < best[rays])
                best[rays[closer]], which[rays[closer]] = t[closer], k
            halves = node.halves if ahead[node.axis] < 0 else node.halves[::-1]  # the nearer half is popped first
            todo.extend((half, rays, packed) for half in halves)
        return best, which

    def blocked(self, o, d, reach) -> np.ndarray:
        """Whether something stands within reach [m], (N,) or a number, of each ray."""
        stopped = np.zeros(o.shape[1], bool)
        reach = np.broadcast_to(np.float32(reach), stopped.shape)
        todo = [(self.root, np.arange(o.shape[1]), bundle(o, d))]
        while todo:
            node, rays, packed = todo.pop()
            near, far = cross(node, packed)
            rays, packed = kept((near <= far) & (near < reach[rays]) & ~stopped[rays], rays, packed)
            if not rays.size:
                continue
            for k in node.shapes:
                stopped[rays[self.shapes[k].hit(packed[:3], packed[3:6]) < reach[rays]]] = True
            todo.extend((half, rays, packed) for half in node.halves)
        return stopped


def bundle(o, d) -> np.ndarray:
    """Origins, directions and inverse directions in one array (9, N)."""
    return np.concatenate([o, d, 1 / np.where(np.abs(d) < 1e-9, np.float32(1e-9), d)]).astype(np.float32)


def cross(node: Node, packed):
    """Distances (N,) at which rays enter and leave the node's box."""
    near, far = np.float32(0), NEVER
    for axis in range(3):
        t0 = (node.low[axis] - packed[axis]) * packed[6 + axis]
        t1 = (node.high[axis] - packed[axis]) * packed[6 + axis]
        near, far = np.maximum(near, np.minimum(t0, t1)), np.minimum(far, np.maximum(t0, t1))
    return near, far


def kept(on, rays, packed):
    """The rays that are on; all of them where leaving some out would not pay."""
    count = np.count_nonzero(on)
    if count == 0:
        return rays[:0], packed[:, :0]
    if count > 0.85 * on.size:
        return rays, packed
    index = np.flatnonzero(on)
    return rays[index], packed[:, index]
