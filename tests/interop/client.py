"""A caller in another language that knows the service by reflection alone: no code generated from the protocol files.

python3 tests/interop/client.py target/debug/lakebeam

Needs grpcio and grpcio-reflection. Starts the binary on a free loopback port over a database in a temporary folder, imports the demo
catalogue, scores it, renders a report, downloads it, and reads the details of refusals (google.rpc.Status, AIP-193)
with the messages that the server describes itself. One line a check; the last one is the sum, and the exit status is 0 if none failed.
"""

import pathlib
import subprocess
import sys
import tempfile

import grpc
from google.protobuf import descriptor_pool, message_factory
from grpc_reflection.v1alpha.proto_reflection_descriptor_database import ProtoReflectionDescriptorDatabase

DEMO = pathlib.Path(__file__).resolve().parents[2] / "demo-catalog"
# What a record refers to stands before it.
KINDS = ["targets", "sensors", "spots", "shelters", "goals", "units", "bookings", "unit-checks", "beam-surveys"]
SERVICES = ["CatalogService", "SelectionService", "RulesService", "FleetService", "ReportService"]
CHUNK = 4096  # small on purpose, so that every file comes in several messages
SECONDS = 120  # for any one call


class Checks:
    """Counts what held and what did not."""

    def __init__(self):
        self.passed = self.failed = 0

    def __call__(self, name, good, told=""):
        self.passed, self.failed = self.passed + bool(good), self.failed + (not good)
        print(f"{'passed' if good else 'FAILED'}: {name}{f' ({told})' if told != '' else ''}", flush=True)
        return good


class Service:
    """Calls of any method, with messages built from what the server describes."""

    def __init__(self, address):
        self.channel = grpc.insecure_channel(address)
        grpc.channel_ready_future(self.channel).result(timeout=SECONDS)
        self.described = ProtoReflectionDescriptorDatabase(self.channel)
        self.pool = descriptor_pool.DescriptorPool(self.described)

    def message(self, name):
        return message_factory.GetMessageClass(self.pool.FindMessageTypeByName(name))

    def number(self, enum, name):
        return self.pool.FindEnumTypeByName(f"lakebeam.v1.{enum}").values_by_name[name].number

    def call(self, service, method, request):
        """The answer, or an iterator of answers; `request` is the fields of a message, or a list of them for a client's stream."""
        found = self.pool.FindServiceByName(f"lakebeam.v1.{service}").methods_by_name[method]
        asked, answered = (message_factory.GetMessageClass(kind) for kind in (found.input_type, found.output_type))
        shape = f"{'stream' if found.client_streaming else 'unary'}_{'stream' if found.server_streaming else 'unary'}"
        stub = getattr(self.channel, shape)(
            f"/lakebeam.v1.{service}/{method}", request_serializer=asked.SerializeToString, response_deserializer=answered.FromString
        )
        return stub((asked(**part) for part in request) if found.client_streaming else asked(**request), timeout=SECONDS)

    def refusal(self, service, method, request):
        """The status of a call that must not succeed, and its details by the short name of their type."""
        try:
            self.call(service, method, request)
        except grpc.RpcError as error:
            carried = dict(error.trailing_metadata()).get("grpc-status-details-bin", b"")
            status = self.message("google.rpc.Status").FromString(carried)
            details = {}
            for packed in status.details:
                name = packed.type_url.rpartition("/")[2]
                details[name.rpartition(".")[2]] = self.message(name).FromString(packed.value)
            return error, status, details
        return None, None, {}


def reflection(service, check):
    names = list(service.described.get_services())
    missing = [name for name in SERVICES if f"lakebeam.v1.{name}" not in names]
    check("reflection lists every service", not missing, ", ".join(missing) or f"{len(names)} services")
    methods = sum(len(service.pool.FindServiceByName(f"lakebeam.v1.{name}").methods) for name in SERVICES)
    check("reflection describes their methods", methods > 0, f"{methods} methods")


def imports(service, check):
    for kind in KINDS:
        text = (DEMO / f"{kind}.csv").read_bytes()
        header = {"kind": service.number("RecordKind", f"RECORD_KIND_{kind.replace('-', '_').upper()}"), "format": service.number("RecordFormat", "RECORD_FORMAT_CSV")}
        parts = [{"header": header}] + [{"chunk": text[start : start + CHUNK]} for start in range(0, len(text), CHUNK)]
        answer = service.call("CatalogService", "ImportRecords", parts)
        good = answer.fault_count == 0 and answer.created > 0 and answer.replaced == 0
        check(f"import of {kind}.csv by client stream", good, f"{answer.rows_read} rows, {answer.created} records, {len(parts)} messages")


def listing(service, check):
    rows = len((DEMO / "spots.csv").read_text().splitlines()) - 1
    names, token, pages = [], "", 0
    while True:
        page = service.call("CatalogService", "ListSpots", {"page_size": 7, "page_token": token})
        names, token, pages = names + [spot.name for spot in page.spots], page.next_page_token, pages + 1
        if not token or pages > rows:
            break
    check("pages of spots together hold every row of the file, once, in order", len(names) == rows and names == sorted(set(names)), f"{len(names)} in {pages} pages")


def run(service, check):
    sensors = service.call("CatalogService", "ListSensors", {"page_size": 1000}).sensors
    spots = service.call("CatalogService", "ListSpots", {"page_size": 1000}).total_size
    due = spots * sum(len(sensor.options) for sensor in sensors)
    spec = {"lure": "targets/tungsten-jig-5", "fish": "targets/perch-25", "goal": service.number("Goal", "GOAL_WATCH_LURE"), "shelter": "shelters/rental-hut-five"}
    asked = {"spec": spec, "request_id": "interop-1"}
    started = service.call("SelectionService", "StartRun", asked)
    again = service.call("SelectionService", "StartRun", asked)
    check("a repeated start with the same request_id is the same run", started.name == again.name, started.name)
    told = [message.run for message in service.call("SelectionService", "WatchRun", {"name": started.name})]
    done = [message.findings_done for message in told]
    last = told[-1]
    check("the watched run ends as succeeded", last.state == service.number("RunState", "RUN_STATE_SUCCEEDED"), last.error or f"{len(told)} messages")
    check("progress never falls and ends at spots times options", done == sorted(done) and done[-1] == due == last.findings_total, f"{done[-1]} of {due}")
    findings = list(service.call("SelectionService", "StreamFindings", {"parent": started.name}))
    check("the stream holds every finding", len(findings) == due, len(findings))
    bounded = all(0 <= finding.score <= 1 and (finding.score == 0 or not finding.failures) for finding in findings)
    check("scores lie between 0 and 1, and none is given to a disqualified option", bounded)
    shared = all(finding.gains.HasField("clear_gain_db") and finding.criteria.HasField("headroom_db") for finding in findings)
    check("fields that are only there in a shared shelter are there", shared)
    tree = service.call("SelectionService", "ExplainFinding", {"name": findings[0].name}).root
    check("the explanation's root is the finding's score", tree.HasField("value") and tree.value == findings[0].score, tree.value)
    return started.name


def report(service, check, source):
    spots = [spot.name for spot in service.call("CatalogService", "ListSpots", {"page_size": 3}).spots]  # a debug build typesets slowly
    asked = {"source": source, "template": "templates/comparison", "spots": spots, "paper": service.number("Paper", "PAPER_US_LETTER"), "title": "Seen from another language"}
    made = service.call("ReportService", "RenderReport", asked)
    check("a report is rendered", made.page_count > 0 and made.title == asked["title"], f"{made.name}, {made.page_count} pages")
    chunks = [answer.chunk for answer in service.call("ReportService", "DownloadReport", {"name": made.name})]
    pdf = b"".join(chunks)
    check("the download has the size that was told", len(pdf) == made.size_bytes, f"{len(pdf)} bytes in {len(chunks)} chunks")
    # ISO 32000-2, 7.5.2 and 7.5.5: the first line names the version, the last one is the end-of-file marker.
    check("the PDF begins with its header", pdf.startswith(b"%PDF-"), pdf[:8].decode("latin-1"))
    check("the PDF ends with its end-of-file marker", pdf.rstrip().endswith(b"%%EOF"))
    check("the same report again is the stored one", service.call("ReportService", "RenderReport", asked).name == made.name)


def refusals(service, check):
    error, status, details = service.refusal("CatalogService", "CreateSpot", {"spot_id": "Bad Id", "spot": {"depth_m": -1.0, "slope_deg": 80.0, "ice_thickness_m": 9.0}})
    check("a bad Create is refused as INVALID_ARGUMENT", error and error.code() == grpc.StatusCode.INVALID_ARGUMENT, error and error.code().name)
    check("google.rpc.Status repeats code and message", status and status.code == error.code().value[0] and status.message == error.details())
    fields = {violation.field: violation.description for violation in getattr(details.get("BadRequest"), "field_violations", [])}
    wanted = {"spot_id", "spot.display_name", "spot.depth_m", "spot.ice_thickness_m", "spot.slope_deg"}
    check("its BadRequest names every bad field at once", wanted <= set(fields), ", ".join(sorted(fields)))
    check("every violation says what is wrong", fields and all(fields.values()), fields.get("spot.depth_m", ""))
    info = details.get("ErrorInfo")
    check("its ErrorInfo has a stable reason in our domain", info is not None and info.domain == "lakebeam" and info.reason, info and info.reason)

    error, _, details = service.refusal("CatalogService", "GetSpot", {"name": "spots/nowhere"})
    check("an unknown spot is NOT_FOUND", error and error.code() == grpc.StatusCode.NOT_FOUND, error and error.details())
    resource = details.get("ResourceInfo")
    check("its ResourceInfo names the resource", resource is not None and resource.resource_name == "spots/nowhere", resource and f"{resource.resource_type} {resource.resource_name}")

    error, _, details = service.refusal("CatalogService", "ListSpots", {"page_token": "bm90IG91cnM"})
    fields = [violation.field for violation in getattr(details.get("BadRequest"), "field_violations", [])]
    good = error and error.code() == grpc.StatusCode.INVALID_ARGUMENT and fields == ["page_token"]
    check("an unknown page token is refused by its field", good, error and error.details())

    kept = service.call("CatalogService", "ListSpots", {"page_size": 1})
    error, _, _ = service.refusal("CatalogService", "ListSensors", {"page_token": kept.next_page_token})
    check("a page token of another list is refused", error and error.code() == grpc.StatusCode.INVALID_ARGUMENT, error and error.details())

    taken = {"spot_id": kept.spots[0].name.partition("/")[2], "spot": {"display_name": "Again", "depth_m": 3.0, "bottom_class": service.number("BottomClass", "BOTTOM_CLASS_SILT")}}
    error, _, details = service.refusal("CatalogService", "CreateSpot", taken)
    check("an id that is taken is ALREADY_EXISTS", error and error.code() == grpc.StatusCode.ALREADY_EXISTS, error and error.details())


def main():
    if len(sys.argv) != 2:
        sys.exit("usage: client.py BINARY, such as target/debug/lakebeam")
    binary = pathlib.Path(sys.argv[1]).resolve()
    check = Checks()
    with tempfile.TemporaryDirectory() as folder:
        command = [binary, "--database", pathlib.Path(folder) / "interop.db", "serve", "--listen", "127.0.0.1:0", "--log", "warn"]
        server = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        try:
            # The first line ends with the address: port 0 asked for any free one.
            address = server.stdout.readline().split()[-1:]
            if check("the service starts and says where it listens", address, "".join(address)):
                service = Service(address[0])
                reflection(service, check)
                imports(service, check)
                listing(service, check)
                report(service, check, run(service, check))
                refusals(service, check)
                service.channel.close()
            server.terminate()
            check("the service ends when it is told to", server.wait(timeout=30) == 0, server.returncode)
        except Exception as error:  # whatever goes wrong is one failed check, and the sum is still printed
            check("every call came to an answer", False, f"{type(error).__name__}: {error}")
        finally:
            if server.poll() is None:
                server.kill()
                server.wait()
    print(f"{check.passed} passed, {check.failed} failed")
    return 1 if check.failed else 0


if __name__ == "__main__":
    sys.exit(main())
