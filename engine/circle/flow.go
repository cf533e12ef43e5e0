package circle

import "math"

// network is a directed graph in which optimise finds a circulation of least cost: in each node as much flows in as
// out, and the flow of each arc is from low to high. A network that was optimised and then changed a little is
// optimised again with little work, because its flow and its potentials are kept.
//
// The method is successive shortest paths with potentials (Ahuja, Magnanti & Orlin 1993, Network Flows, chapter 9).
// With the reduced cost of an arc from u to v, cost + potential(u) - potential(v), the circulation is the cheapest if
// arcs with a negative reduced cost are full and arcs with a positive one are at their low. optimise first sets such
// arcs so. That leaves nodes with an excess and nodes with a deficit, and it sends the excess along shortest paths.
type network struct {
	tail, head      []int32
	low, high, flow []int32
	cost            []int64
	potential       []int64 // of each node
	excess          []int32 // of each node: what flows in and not out

	first []int32 // by node: where its arcs begin in steps; one entry more than nodes
	steps []int32 // arc*2 to go along the arc from its tail, arc*2+1 to go against it from its head

	dist    []int64
	via     []int32 // the step on which the shortest path comes to the node; -1 at its begin
	reached []int32 // round in which dist and via of the node were set
	settled []int32 // nodes with a final distance, nearest first
	round   int32
	queue   queue
	pops    int // from the queue: how much work was done

	stop func() bool // nil, or whether the caller stops the work: then optimise returns false
}

// node adds a node.
func (n *network) node() int32 {
	n.potential = append(n.potential, 0)
	n.excess = append(n.excess, 0)
	return int32(len(n.potential) - 1)
}

// arc adds an arc without flow.
func (n *network) arc(tail, head, high int32, cost int64) int32 {
	n.tail, n.head = append(n.tail, tail), append(n.head, head)
	n.low, n.high, n.flow = append(n.low, 0), append(n.high, high), append(n.flow, 0)
	n.cost = append(n.cost, cost)
	return int32(len(n.tail) - 1)
}

// index must be called when all nodes and arcs were added.
func (n *network) index() {
	nodes := len(n.potential)
	n.first = make([]int32, nodes+1)
	for a := range n.tail {
		n.first[n.tail[a]+1]++
		n.first[n.head[a]+1]++
	}
	for v := range nodes {
		n.first[v+1] += n.first[v]
	}
	next := make([]int32, nodes)
	copy(next, n.first)
	n.steps = make([]int32, 2*len(n.tail))
	for a := range n.tail {
		n.steps[next[n.tail[a]]] = int32(2 * a)
		next[n.tail[a]]++
		n.steps[next[n.head[a]]] = int32(2*a + 1)
		next[n.head[a]]++
	}
	n.dist, n.via, n.reached = make([]int64, nodes), make([]int32, nodes), make([]int32, nodes)
}

// reset takes away all flow and sets the potentials to the least costs from source. Except for the arc back, the arcs
// of the network have no cycle.
func (n *network) reset(source, back int32) {
	for a := range n.flow {
		n.flow[a] = 0
	}
	for v := range n.potential {
		n.potential[v] = math.MaxInt64
		n.excess[v] = 0
	}
	n.potential[source] = 0
	for changed := true; changed; {
		changed = false
		for a, u := range n.tail {
			if int32(a) == back || n.high[a] == 0 || n.potential[u] == math.MaxInt64 {
				continue
			}
			if d := n.potential[u] + n.cost[a]; d < n.potential[n.head[a]] {
				n.potential[n.head[a]] = d
				changed = true
			}
		}
	}
	for v := range n.potential {
		if n.potential[v] == math.MaxInt64 {
			n.potential[v] = 0
		}
	}
}

// optimise makes the flow the cheapest circulation. It returns false if there is none, or if the caller stops it; then
// the flow is not a circulation, and another snapshot must be restored.
func (n *network) optimise() bool {
	for a, f := range n.flow {
		u, v := n.tail[a], n.head[a]
		reduced := n.cost[a] + n.potential[u] - n.potential[v]
		to := min(max(f, n.low[a]), n.high[a])
		if reduced < 0 {
			to = n.high[a]
		} else if reduced > 0 {
			to = n.low[a]
		}
		if to != f {
			n.flow[a] = to
			n.excess[v] += to - f
			n.excess[u] -= to - f
		}
	}
	for {
		end, any := n.shortest()
		if !any {
			return true
		}
		if end < 0 || n.stop != nil && n.stop() {
			return false
		}
		n.augment(end)
	}
}

// shortest finds the nearest node with a deficit from all nodes with an excess and changes the potentials so that the
// path to it has reduced costs of 0. any is false if no node has an excess; end is -1 if no deficit can be reached.
func (n *network) shortest() (end int32, any bool) {
	n.round++
	n.settled, n.queue = n.settled[:0], n.queue[:0]
	for v, e := range n.excess {
		if e > 0 {
			n.dist[v], n.via[v], n.reached[v] = 0, -1, n.round
			n.queue.push(entry{0, int32(v)})
			any = true
		}
	}
	for len(n.queue) > 0 {
		e := n.queue.pop()
		n.pops++
		u := e.node
		if e.dist > n.dist[u] {
			continue // a shorter path was found after this entry
		}
		if n.excess[u] < 0 {
			for _, v := range n.settled {
				n.potential[v] += n.dist[v] - e.dist
			}
			return u, true
		}
		n.settled = append(n.settled, u)
		for _, step := range n.steps[n.first[u]:n.first[u+1]] {
			a := step >> 1
			var v int32
			var d int64
			if step&1 == 0 {
				if n.flow[a] >= n.high[a] {
					continue
				}
				v = n.head[a]
				d = e.dist + n.cost[a] + n.potential[u] - n.potential[v]
			} else {
				if n.flow[a] <= n.low[a] {
					continue
				}
				v = n.tail[a]
				d = e.dist - n.cost[a] + n.potential[u] - n.potential[v]
			}
			if n.reached[v] != n.round || d < n.dist[v] {
				n.dist[v], n.via[v], n.reached[v] = d, step, n.round
				n.queue.push(entry{d, v})
			}
		}
	}
	return -1, any
}

// augment sends as much as fits along the shortest path to end.
func (n *network) augment(end int32) {
	amount := -n.excess[end]
	v := end
	for n.via[v] >= 0 {
		if a := n.via[v] >> 1; n.via[v]&1 == 0 {
			amount = min(amount, n.high[a]-n.flow[a])
			v = n.tail[a]
		} else {
			amount = min(amount, n.flow[a]-n.low[a])
			v = n.head[a]
		}
	}
	amount = min(amount, n.excess[v])
	n.excess[v] -= amount
	n.excess[end] += amount
	for v = end; n.via[v] >= 0; {
		if a := n.via[v] >> 1; n.via[v]&1 == 0 {
			n.flow[a] += amount
			v = n.tail[a]
		} else {
			n.flow[a] -= amount
			v = n.head[a]
		}
	}
}

// snapshot is the flow and the potentials of a network.
type snapshot struct {
	flow      []int32
	potential []int64
}

func (n *network) save() snapshot {
	return snapshot{append([]int32(nil), n.flow...), append([]int64(nil), n.potential...)}
}

func (n *network) restore(s snapshot) {
	copy(n.flow, s.flow)
	copy(n.potential, s.potential)
	clear(n.excess)
}

// entry is a node with the length of a path to it; queue is a binary heap of them, the shortest first. With equal
// lengths the lower node comes first, so that the flow does not depend on the history of the heap.
type entry struct {
	dist int64
	node int32
}

type queue []entry

func (e entry) before(f entry) bool { return e.dist < f.dist || e.dist == f.dist && e.node < f.node }

func (q *queue) push(e entry) {
	h := append(*q, e)
	i := len(h) - 1
	for i > 0 {
		up := (i - 1) / 2
		if !e.before(h[up]) {
			break
		}
		h[i] = h[up]
		i = up
	}
	h[i] = e
	*q = h
}

func (q *queue) pop() entry {
	h := *q
	top, e := h[0], h[len(h)-1]
	h = h[:len(h)-1]
	i := 0
	for 2*i+1 < len(h) {
		c := 2*i + 1
		if c+1 < len(h) && h[c+1].before(h[c]) {
			c++
		}
		if !h[c].before(e) {
			break
		}
		h[i] = h[c]
		i = c
	}
	if len(h) > 0 {
		h[i] = e
	}
	*q = h
	return top
}
