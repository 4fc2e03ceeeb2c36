-- For wrk: posts the bodies of a file, one a line, in turn, and prints what was measured as JSON.

local bodies, sent = {}, 0

function init(args)
  for line in io.lines(args[1]) do
    bodies[#bodies + 1] = line
  end
  wrk.method = "POST"
  wrk.headers["Content-Type"] = "application/json"
  if #bodies == 1 then
    local one = wrk.format(nil, nil, nil, bodies[1])
    request = function() return one end
  else
    request = function()
      sent = sent % #bodies + 1
      return wrk.format(nil, nil, nil, bodies[sent])
    end
  end
end

function done(summary, latency, requests)
  local errors = summary.errors
  io.write(string.format(
    '{"requests": %d, "seconds": %f, "refused": %d, "failed": %d, "p50_ms": %f, "p99_ms": %f}\n',
    summary.requests, summary.duration / 1e6, errors.status, errors.connect + errors.read + errors.write + errors.timeout,
    latency:percentile(50) / 1e3, latency:percentile(99) / 1e3))
end
